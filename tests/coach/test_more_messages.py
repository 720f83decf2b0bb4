"""Messages as people write them, another score: their own words for the circles, numbers in words,
dashes, a comma for the point, counts with their scale."""

import pytest

from plumbstar.coach import say
from plumbstar.coach.follows import Ask, follow
from plumbstar.coach.message import read_message
from plumbstar.kit import Kit

from .test_messages import EVENING, NOISE, NOWHERE, PRIORS

#: (the message, (star, left-right, up-down, hour of the day), a number, what is asked for).
MESSAGES = [
    ("Evening! Both stars were spot on in the crosshairs (Castor 8.05pm, base 95,0 tube 50,4 / "
     "Aldebaran 8.14pm, base 177,3 tube 59,3). And yet the Crab nebula just isnt there.",
     [("Castor", 95.0, 50.4, 20.083), ("Aldebaran", 177.3, 59.3, 20.233)], None, Ask.NEXT_STAR),
    ("hiya did pollux n aldebaran, pollux 98.5 by 47.0 aldebaran 177.3 by 59.1, didnt look at the "
     "clock sry", [("Pollux", 98.5, 47.0, None), ("Aldebaran", 177.3, 59.1, None)], None, Ask.TIME),
    ("tried it for the first time yesterday evening, local time 8:05pm, the star was Castor i "
     "think (the upper twin), dial said 95 and gauge said 57 and a half",
     [("Castor", 95.0, 57.5, 20.083)], None, Ask.SECOND_STAR),
    ("so my little box shows plus one point four after Capella and then Rigel, whats that mean",
     [("Capella", None, None, None), ("Rigel", None, None, None)], 1.4, Ask.TIME),
    ("LOCAL 19:55 / Sirus / az 137.9 / el 13.6", [("Sirius", 137.9, 13.6, 19.917)], None,
     Ask.SECOND_STAR),
    ("Only got one star before the clouds rolled in: Bellatrix, 7.58pm, L/R 152.4 U/D 45.0",
     [("Bellatrix", 152.4, 45.0, 19.967)], None, Ask.SECOND_STAR),
    ("clouded out again :( but is 40 in 100 any good?", [], None, Ask.START),
    ("Rigel 8pm azi 152 ht 33, then Betelguese 8:05pm azi 145 ht 45. first light! so excited. "
     "Andromeda was 3 degrees to the right",
     [("Rigel", 152, 33, 20.0), ("Betelgeuse", 145, 45, 20.083)], None, Ask.NEXT_STAR),
    ("encoder ticks for Mirfak 2311 / 1544 and Alpheratz 5120 / 702, 8192 per rev",
     [("Mirfak", 101.56, 67.85, None), ("Alpheratz", 225.0, 30.85, None)], None, Ask.TIME),
    ("I set up at 18.30, moved the scope inside the shed and out again, then Deneb az 316.2 alt "
     "22.8 at 18.55", [("Deneb", 316.2, 22.8, 18.917)], None, Ask.SECOND_STAR),
    ("My alt says -3.2 for Sirius at 8pm, that can't be right?", [("Sirius", None, -3.2, 20.0)],
     None, Ask.LEFT_RIGHT),
    ("it wont line up. left right is 212 up down is 41 for the north star at 9",
     [("Polaris", 212, 41, None)], None, Ask.TIME),
    ("The first star was Deneb I think, low in the northwest, 7:20pm, 318.0, 21",
     [("Deneb", 318.0, 21, 19.333)], None, Ask.SECOND_STAR),
    ("Tonight, Wednesday the 28th, 19:50 CET: Capella 89,0 - 77,8; 19:53 CET: Mirfak 294,7 - 82,2",
     [("Capella", 89.0, 77.8, 19.833), ("Mirfak", 294.7, 82.2, 19.883)], None, Ask.NEXT_STAR),
    ("2.3 deg after aldebaran and pollux, 0.1 after capella and rigel, why different??",
     [("Aldebaran", None, None, None), ("Pollux", None, None, None)], 2.3, Ask.TIME),
    ("number was 0,9 degree. stars capella & hamal, 18:05 local and 18:07 local",
     [("Capella", None, None, 18.083), ("Hamal", None, None, 18.117)], 0.9, Ask.TIME),
    ("Time 20:15:30, Procyon AZ118°24' ALT34°12'; 20:18:10, Regulus AZ 88°06' ALT 13°30'",
     [("Procyon", 118.4, 34.2, 20.258), ("Regulus", 88.1, 13.5, 20.303)], None, Ask.NEXT_STAR),
    ("tube 33.9 base 118.3 on Procyon at twelve past eight, i mean 20.12",
     [("Procyon", 118.3, 33.9, None)], None, Ask.TIME),
    ("What star is the bright one left of the moon?", [], None, Ask.START),
]  # fmt: skip


@pytest.mark.parametrize(("text", "stars", "number", "ask"), MESSAGES)
def test_what_is_read_and_what_is_asked(text, stars, number, ask):
    message = read_message(text)
    told = [
        (
            s.thing.label,
            s.az and s.az.degrees,
            s.alt and s.alt.degrees,
            s.clock and round((s.clock.seconds / 3600), 3),
        )
        for s in message.stars
    ]
    assert told == stars
    assert message.number_deg == number
    assert follow(message, EVENING, PRIORS, NOISE, Kit()).ask is ask
    for at in (EVENING, NOWHERE):
        reply = say.answer(follow(message, at, PRIORS, NOISE, Kit()), at)
        assert reply.count("One thing, please:") + reply.count("Try next:") == 1


def test_a_dash_between_two_numbers_is_no_sign():
    """Read as heights below zero, they made "Your up-down numbers run backwards"."""
    f = follow(read_message(MESSAGES[13][0]), EVENING, PRIORS, NOISE, Kit())
    assert "backwards" not in say.answer(f, EVENING)
    below = read_message("Capella 7:42pm az 61.2 alt -66.0")
    assert below.stars[0].alt is not None
    assert below.stars[0].alt.degrees == -66.0


def test_two_perfect_sightings_are_told_so():
    f = follow(read_message(MESSAGES[0][0]), EVENING, PRIORS, NOISE, Kit())
    assert "Nothing looks wrong with your telescope" in say.answer(f, EVENING)


def test_counts_with_their_scale_are_not_asked_for_it():
    f = follow(read_message(MESSAGES[8][0]), EVENING, PRIORS, NOISE, Kit())
    assert "counts 2311 and 1544, of 8192 a turn" in say.answer(f, EVENING)
    bare = follow(
        read_message("encoder ticks for Mirfak 2311 / 1544"), EVENING, PRIORS, NOISE, Kit()
    )
    assert bare.ask is Ask.SCALE
