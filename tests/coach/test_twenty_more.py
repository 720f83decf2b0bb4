"""A third score of messages: two numbers in one, a star under two names, numbers without a sign,
times to the half hour, heights counted from overhead, and the other half of the world.

Their readings are true ones of a telescope in order, worked out apart: Capella 88 and 76, Rigel
158 and 32 at 19:42 by the clock of the ridge, and so on.
"""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.coach.follows import Ask, follow
from plumbstar.coach.message import read_message
from plumbstar.kit import Kit
from plumbstar.sky.times import Instant
from plumbstar.web.views.coached import coached

from .test_messages import EVENING, JARGON, NOISE, NOWHERE, PRIORS

NOW = Instant.parse("2027-01-28T20:00:00Z")
TOWN, FAR = "Innsbruck", "Perth"


def said(text: str, town: str = TOWN) -> str:
    return coached(text, town, "2027-01-28", NOW).reply


#: (message, the numbers each with its stars).
NUMBERS = [
    ("it says +1.4 after Capella and Rigel, then I did it again with Deneb and Aldebaran and now "
     "it says -0.3. which one is right",
     [(1.4, ["Capella", "Rigel"]), (-0.3, ["Deneb", "Aldebaran"])]),
    ("first time 7:42pm Capella 7:43pm Rigel: +1.4. second time Capella 8:10pm Deneb 8:11pm -0.6",
     [(1.4, ["Capella", "Rigel"]), (-0.6, ["Capella", "Deneb"])]),
    ("Is it bad that it went from 0.4 to 1.9 when I did the same two stars again an hour later "
     "(Capella/Rigel)? nothing was touched!!",
     [(0.4, ["Capella", "Rigel"]), (1.9, ["Capella", "Rigel"])]),
    ("Did Capella and Deneb and it showed 0.8, did them again and it showed 0.7",
     [(0.8, ["Capella", "Deneb"]), (0.7, ["Capella", "Deneb"])]),
    ("2.3 deg after aldebaran and pollux, 0.1 after capella and rigel, why different??",
     [(2.3, ["Aldebaran", "Pollux"]), (0.1, ["Capella", "Rigel"])]),
    ("two questions. 1) is 0.7 a good number? 2) it wants star 2 but that ones behind my "
     "neighbours tree can i use a different one", [(0.7, [])]),
    ("the display has 2 lines: 'ALIGN STAR 2 RIGEL' and under it 'MISFIT 1.2' (no plus or minus)",
     [(1.2, ["Rigel"])]),
    ("reading was 1.2 no sign shown, stars were Aldebaran then Regulus at 9:05 and 9:07 in the "
     "evening", [(1.2, ["Aldebaran", "Regulus"])]),
    ("I pushed to M31 like it told me, 3.2 left and 0.5 up till both zeros, looked, not there. is "
     "my alignment bad? numbers were Capella & Deneb +0.4", [(0.4, ["Capella", "Deneb"])]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "numbers"), NUMBERS)
def test_every_number_is_read_with_its_own_stars(text, numbers):
    told = read_message(text).numbers
    assert [(n.deg, [s.thing.label for s in n.stars]) for n in told] == numbers
    reply = said(text)
    for deg, _ in numbers:
        assert f"{deg:+g}°" in reply
    for word in JARGON:
        assert not re.search(rf"\b{word}", reply), word


def test_two_numbers_with_their_times_are_weighed_together():
    reply = said(NUMBERS[1][0])
    assert "at 7:43 pm" in reply
    assert "They contradict one another" in reply
    # The stop that each asks for, by `why --shown` of each: +1.6 and -0.3 degrees.
    assert "about 1.6° (give or take 0.4°) higher" in reply
    assert "about 0.3° (give or take 0.2°) lower" in reply
    out = json.loads(_why("--coach", NUMBERS[1][0], "--json"))
    assert [e["shown_deg"] for e in out["evenings"]] == [1.4, -0.6]
    assert out["reply"] == _why("--coach", NUMBERS[1][0], "--reply").rstrip("\n")


def test_two_numbers_that_go_together_are_told_so():
    reply = said("Capella 7:42pm Deneb 7:43pm -0.9. again Capella 8:10pm Deneb 8:11pm -0.8")
    assert "The same pair twice, 0.1° apart" in reply
    assert "contradict" not in reply


@pytest.mark.parametrize(("a", "b"), [("0.4", "1.9"), ("0,4", "1,9")])
def test_the_same_pair_again_need_only_come_within_the_hand(a, b):
    text = "it went from {} to {} when I did Capella and Rigel again"
    assert "should come within 0.4°" in said(text.format(a, b))
    assert "no more than centring by eye leaves" in said(text.format(a, a))


def test_a_number_without_a_sign_is_told_to_be_taken_as_plus():
    reply = said(NUMBERS[7][0])
    assert "no sign was written: taken as plus" in reply
    assert "If there was a minus, it is the other way round." in reply
    assert "at 9:05 pm, then Regulus at 9:07 pm" in reply
    assert "no sign" not in said(NUMBERS[7][0].replace("1.2 no sign shown", "+1.2"))


@pytest.mark.parametrize(
    ("text", "settled"),
    [
        # Deneb stood 22 up, Vega 3.
        ("7:42pm, Vega or maybe Deneb, az 316 alt 24. not sure which, low in the NW", "Deneb"),
        ("7:42pm, Deneb (or was it Vega?), az 330 alt 3", "Vega"),
        # By the angle to Capella alone: 76 to Vega, 66 to Deneb (catalogue).
        ("Capella 87.8 76.3, then Vega or Deneb 314.5 21.6, no idea of the time", "Deneb"),
        ("Capella 87.8 76.3, then Deneb, might have been Vega 330.1 3.3, no idea when", "Vega"),
    ],
)  # fmt: skip
def test_the_numbers_tell_which_of_two_names_it_was(text, settled):
    f = follow(read_message(text), EVENING, PRIORS, NOISE, Kit())
    assert [d.settled for d in f.doubts] == [settled]
    assert f.message.stars[-1].thing.label == settled
    assert f"it was {settled}, since your numbers fit it" in said(text)


@pytest.mark.parametrize("at", [EVENING, NOWHERE])
def test_where_they_do_not_tell_the_name_is_asked_for(at):
    # At 18:05 Castor and Pollux stood 28 and 24 up: within what the stop leaves open.
    f = follow(read_message("Castor or Pollux 6:05pm, 65 by 26"), at, PRIORS, NOISE, Kit())
    assert f.ask is Ask.WHICH_OF
    assert f.of == "Castor or Pollux"
    assert [d.settled for d in f.doubts] == [""]


def test_of_a_controllers_number_the_doubtful_star_is_asked_for():
    text = "box shows 2.1 after Capella and Vega or maybe it was Deneb, about 7.45 in the evening"
    reply = said(text)
    assert "Capella at 7:45 pm, then Vega or Deneb at 7:45 pm" in reply
    assert "Deneb stood low in the north-west" in reply
    assert "was it Vega or Deneb?" in reply
    # Canopus never rises there.
    assert "it was Deneb, since the other was below the horizon" in said(
        "box shows 2.1 after Capella and Deneb, might have been Canopus, 7.45 in the evening"
    )


#: (message, town, (star, left-right, up-down, hour) of each).
SIGHTED = [
    ("I think the first was Procyon, 10.15 pm, 63 degrees left right, 48 up. Second one Sirius? "
     "10.20pm 46ish and 74. Im in Perth btw", FAR,
     [("Procyon", 63, 48, 22.25), ("Sirius", 46, 74, 22.333)]),
    ("sighted alpha centauri at 4am, 152.0 and 52.5; then antares quarter past four 100, 38", FAR,
     [("Rigil Kentaurus", 152, 52.5, 4.0), ("Antares", 100, 38, 4.25)]),
    ("hey so canopus n acrux, 10pm ish. dial 168.5 & 68, other one 151 & 24.5 ... and why is "
     "everything upside down in the finder", "-31.5,21",
     [("Canopus", 168.5, 68, 22.0), ("Acrux", 151, 24.5, 22.0)]),
    ("Picture attached: top line says CAPELLA 087.3, bottom line says +76.2, little clock in the "
     "corner 19:42", TOWN, [("Capella", 87.3, 76.2, 19.7)]),
    ("My inclinometer reads 33.1 on Rigel but I only have a phone compass, it said 165 or so. 7.50 "
     "in the evening", TOWN, [("Rigel", 165, 33.1, 19.833)]),
    ("Capela 87 deg 48 min, 76 deg. Rigle 157 deg 54 min, 32 deg. 1942 and 1944 hrs", TOWN,
     [("Capella", 87.8, 76, 19.7), ("Rigel", 157.9, 32, 19.733)]),
    ("I dont have the times exactly, around 8ish both within 5 mins. Betelgeuse -36.0 / 45 , "
     "Capella -88.8 / 79.5. zero was set on the south mark", TOWN,
     [("Betelgeuse", -36.0, 45, 8.0), ("Capella", -88.8, 79.5, 8.0)]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "town", "stars"), SIGHTED)
def test_what_stood_in_the_eyepiece(text, town, stars):
    told = read_message(text).stars
    assert [
        (s.thing.label, s.az.degrees, s.alt.degrees, round(s.clock.seconds / 3600, 3)) for s in told
    ] == [pytest.approx(s) for s in stars]
    reply = said(text, town)
    # A telescope in order is not called faulty.
    assert "Nothing looks wrong" in reply or "That fits" in reply


def test_heights_counted_from_overhead_are_known_as_such():
    for text in (
        "Alt 13.5 / Az 87.2 (Capella) 7:42 PM -- Alt 58 / Az 158 (Rigel) 7:44 PM -- both from the "
        "top down I think?",
        "Capella 7:42pm az 87.2 alt 13.5; Rigel 7:44pm az 158 alt 58",
    ):
        reply = said(text)
        assert "count from overhead: 0 straight up" in reply
        assert "Write 90 less" in reply
        assert "I took up-down as 0 at the horizon" not in reply
    assert "If yours is 0 overhead, write 90 less" in said("Capella alt 13 measured from the top")


def test_a_star_that_another_is_found_by_is_not_the_one_in_the_eyepiece():
    text = "i was half a fist left of jupiter. half past nine. numbers 112 and 38. what star is it"
    reply = said(text)
    assert "112 and 38, of no star that you name" in reply
    assert "write me the same of Jupiter" in reply
    assert "at what time" not in reply


def test_who_knows_nothing_is_told_where_to_look():
    reply = said("my dad loved this telescope, I want to show him Saturn. there are two dials")
    # Saturn 240 and 28 at 19:42; 36 up an hour and a half before (worked out apart).
    assert "when it is dark, Saturn stands halfway up in the south-west" in reply
    assert "is not up when it gets dark" in said("I want to see Spica. what do I do")


def _why(*args: str) -> str:
    where = ("--site", "47.27,11.39", "--utc", "2027-01-28", "--zone", "Europe/Vienna")
    run = CliRunner().invoke(group, ["why", *args, *where])
    assert run.exit_code == 0, (run.output, run.exception)
    return run.output
