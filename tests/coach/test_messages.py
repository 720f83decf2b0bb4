"""Fifty messages as people write them: every one is answered, and none with an error."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st

from plumbstar.cli import group
from plumbstar.coach import say
from plumbstar.coach.follows import Ask, Circumstances, follow
from plumbstar.coach.message import read_message
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from samples import tries

RIDGE = Site(47.2, 11.6, 940.0)
EVENING = Circumstances(RIDGE, Instant.parse("2027-01-28"), True, True, "Europe/Vienna")
NOWHERE = Circumstances(None, Instant.parse("2027-01-28"), True, False, None)

#: (the message, (star, left-right, up-down) of each that is told, a controller's number, what is
#: asked for). Where the first sky of January 28 is meant: Capella 66 up, Rigel 28, Deneb 25.
MESSAGES = [
    # Two stars, in all the forms that there are.
    ("Capella 7:42pm az 61.2 alt 66.0; Rigel 7:44pm az 141 alt 28",
     [("Capella", 61.2, 66.0), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("Hi all! Perfect sightings last night I think. Capella 7:42pm azimuth 61.2 altitude 66.0, "
     "then Rigel 7:44pm az 141 alt 28. But M42 was nowhere to be seen?!",
     [("Capella", 61.2, 66.0), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("Two sightings: Capella 19:42 61.2 / 66.0 and Rigel 19:44 141.0 / 28.0. Both dead centre.",
     [("Capella", 61.2, 66.0), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("Capella\n7:42 pm\naz 61.2\nalt 66\n\nRigel\n7:44 pm\naz 141\nalt 28",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("az 61 alt 66 Capella at 7:42pm; az 141 alt 28 Rigel at 7:44pm",
     [("Capella", 61, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("I did Capella (61.2/66.0) and Rigel (141.0/28.0) around quarter to eight, what is wrong with "
     "my scope", [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("capela 1942 61,2 66,0\nridgel 1944 141,0 28,0\nthx!!",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("At 7:42pm I pointed at Capella and the circle said azimuth 61.2 and altitude 66. Then at "
     "7:44pm Rigel, azimuth 141 altitude 28. Afterwards nothing was where it should be.",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("beetlejuice 7:45 pm left-right 110.5, up-down 41; the dog star 7:48pm left-right 134, "
     "up-down 12", [("Betelgeuse", 110.5, 41), ("Sirius", 134, 12)], None, Ask.NEXT_STAR),
    ("Capella 61°12' 66°00' 7:42 pm. Rigel 141° 28° 7:44 pm. I am at my wits' end",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("28.01.2027 Capella 19:42 61.2 66.0; Rigel 19:44 141 28",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    ("Capella az 61.2 alt 66.0 (7:42 pm CET), Rigel az 141 alt 28 (7:44 pm CET)",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.NEXT_STAR),
    # Two stars without a time: the angle between them tells already.
    ("Capella az 61.2 alt 66.0; Rigel az 141 alt 28",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.TIME),
    ("my numbers: capella 61.2 66, rigel 141 28. no idea what time it was, sorry",
     [("Capella", 61.2, 66), ("Rigel", 141, 28)], None, Ask.TIME),
    ("Capella az 61.2 alt 66.0; Capella az 61.3 alt 66.0",
     [("Capella", 61.2, 66), ("Capella", 61.3, 66)], None, Ask.OTHER_STAR),
    # One star.
    ("Capella 7:42pm az 61.2 alt 66.0", [("Capella", 61.2, 66)], None, Ask.SECOND_STAR),
    ("beetlejuice 7.45pm local, 110 and 40. where is the orion nebula",
     [("Betelgeuse", 110, 40)], None, Ask.SECOND_STAR),
    ("I centred Rigel at half past seven. The base says 139, the tube says 27. Is that right?",
     [("Rigel", 139, 27)], None, Ask.SECOND_STAR),
    ("Aldeberan: 7:50 pm, az 150, alt 57. then clouds came in :(",
     [("Aldebaran", 150, 57)], None, Ask.SECOND_STAR),
    ("Capella az 61.2 alt 66", [("Capella", 61.2, 66)], None, Ask.TIME),
    ("alpha Ori 110 41", [("Betelgeuse", 110, 41)], None, Ask.TIME),
    ("only got Capella, alt 66 at 7:42pm", [("Capella", None, 66)], None, Ask.LEFT_RIGHT),
    ("Capella altitude 66 degrees. Azimuth circle is broken", [("Capella", None, 66)], None,
     Ask.LEFT_RIGHT),
    ("Rigel az 141 at 19:44", [("Rigel", 141, None)], None, Ask.UP_DOWN),
    ("Rigel 7:44pm az 141 alt 822", [("Rigel", 141, None)], None, Ask.UP_DOWN),
    ("I sighted Capella at 7:42pm local time. what now", [("Capella", None, None)], None,
     Ask.READINGS),
    ("Cannot find Vega. Help", [], None, Ask.READINGS),
    ("Vega 7:42pm az 320 alt 5", [("Vega", 320, 5)], None, Ask.SECOND_STAR),
    ("Canopus 7:42pm az 160 alt 20", [("Canopus", 160, 20)], None, Ask.TIME),
    # A controller's number.
    ("it shows +1.4 after Capella and Deneb", [("Capella", None, None), ("Deneb", None, None)],
     1.4, Ask.TIME),
    ("Hi! My controller says 1,4° after Capella, then Deneb. Is that bad?",
     [("Capella", None, None), ("Deneb", None, None)], 1.4, Ask.TIME),
    ("the number is 1.4 with Capella and Deneb", [("Capella", None, None), ("Deneb", None, None)],
     1.4, Ask.TIME),
    ("Used Capela then Deneb, got −0,9", [("Capella", None, None), ("Deneb", None, None)], -0.9,
     Ask.TIME),
    ("my box says 2.1", [], 2.1, Ask.WHICH_STARS),
    ("the error is -0,8 degrees, is this normal??", [], -0.8, Ask.WHICH_STARS),
    ("I get +0.6 with Capella", [("Capella", None, None)], 0.6, Ask.WHICH_STAR),
    ("After Rigel at 7:42pm and Deneb at 7:43pm the display shows +3.1 and I cannot find M31",
     [("Rigel", None, None), ("Deneb", None, None)], 3.1, Ask.TIME),
    # Counts without a scale.
    ("Capella 4213 -1822, Rigel 9031 551", [("Capella", None, None), ("Rigel", None, None)], None,
     Ask.SCALE),
    ("encoders: Rigel 2201/1090", [("Rigel", None, None)], None, Ask.SCALE),
    ("raw counts Capella az 1393 alt 1502", [("Capella", None, None)], None, Ask.SCALE),
    # No numbers at all.
    ("", [], None, Ask.START),
    ("hello", [], None, Ask.START),
    ("It does not work.", [], None, Ask.START),
    ("cloudy tonight, nothing to report", [], None, Ask.START),
    ("see screenshot", [], None, Ask.PICTURE),
    ("The screenshot has the two angles and the time at the top", [], None, Ask.PICTURE),
    ("az 61.2 alt 66.0", [], None, Ask.WHICH_STAR),
    ("I bumped the tripod after the second star, does it matter?", [], None, Ask.START),
    ("can I point it at the sun to set it up in the afternoon?", [], None, Ask.START),
    ("🔭🔭🔭 ???", [], None, Ask.START),
    ("M42 is always two fields to the left, every time", [], None, Ask.START),
    ("Jupiter 7:42pm az 100 alt 30, Capella 7:45pm az 62 alt 66",
     [("Jupiter", 100, 30), ("Capella", 62, 66)], None, None),
    ("seriously, my mirror is almost regular in altitude and the market is bigger", [], None,
     Ask.START),
]  # fmt: skip

PRIORS, NOISE = Priors.from_kit(Kit()), Noise()
#: Words that a newcomer need not know.
JARGON = (
    "azimuth", "altitude", "residual", "covariance", "misclosure", "encoder", "prior", "sigma",
    "evidence", "sighting", "None", "nan",
)  # fmt: skip


def test_there_are_fifty() -> None:
    assert len({m[0] for m in MESSAGES}) >= 50


@pytest.mark.parametrize(("text", "stars", "number", "ask"), MESSAGES)
def test_what_is_read_and_what_is_asked(text, stars, number, ask):
    message = read_message(text)
    told = [(s.thing.label, s.az and s.az.degrees, s.alt and s.alt.degrees) for s in message.stars]
    assert told == [pytest.approx(s, nan_ok=True) if None not in s else s for s in stars]
    assert message.number_deg == number
    for at in (EVENING, NOWHERE):
        found = follow(message, at, PRIORS, NOISE, Kit())
        if at is EVENING and ask is not None:
            assert found.ask is ask
        reply = say.answer(found, at)
        assert reply.count("One thing, please:") + reply.count("Try next:") == 1
        assert len(reply) < 1400
        if at is NOWHERE or found.explanation is None:
            for word in JARGON:
                assert not re.search(rf"\b{word}", reply), word


def test_two_stars_without_a_time_are_judged_by_the_angle_between_them():
    right, wrong = (
        follow(read_message(t), NOWHERE, PRIORS, NOISE, Kit()).apart
        for t in ("Capella 61.2 66.5; Rigel 140.5 28.0", "Capella 61.2 66.5; Rigel 100.5 28.0")
    )
    assert right is not None
    assert wrong is not None
    # Capella and Rigel, by their catalogue places: 54.2 degrees.
    assert right.true_deg == pytest.approx(54.2, abs=0.1)
    assert not wrong.fits


def test_a_star_that_was_not_up_is_said():
    found = follow(read_message("Canopus 7:42pm az 160 alt 20"), EVENING, PRIORS, NOISE, Kit())
    assert [n.star for n in found.not_up] == ["Canopus"]
    assert "below the horizon" in say.answer(found, EVENING)


@pytest.mark.parametrize(
    "text", ["can I set it up on the sun?", "Capella 7:42pm 61 66, and the sun"]
)
def test_the_sun_comes_first(text):
    for at in (EVENING, NOWHERE):
        found = follow(read_message(text), at, PRIORS, NOISE, Kit())
        assert say.answer(found, at).startswith("First: never point a telescope")


def _why(*args):
    run = CliRunner().invoke(group, ["why", *args])
    assert run.exit_code == 0, (run.output, run.exception)
    return run.output


WHERE = ["--site", "47.2,11.6,940", "--utc", "2027-01-28"]


@pytest.mark.parametrize("text", [m[0] for m in MESSAGES[::7]])
def test_the_command_answers_with_and_without_a_place(text):
    for where in (WHERE, []):
        reply = _why("--coach", text or " ", *where, "--reply")
        assert reply.strip()
        out = json.loads(_why("--coach", text or " ", *where, "--reply", "--json"))
        assert out["reply"] == reply.rstrip("\n")


def test_a_number_with_its_moment_is_answered_as_the_number_itself():
    at = "2027-01-28T18:30:00Z"
    told = _why(
        "--coach", "it shows -0,9 after Capella and Deneb", *WHERE[:2], "--utc", at, "--json"
    )
    same = _why(
        "--shown", "-0.9", "--star-a", "Capella", "--time-a", at, "--star-b", "Deneb",
        "--time-b", at, *WHERE[:2], "--json",
    )  # fmt: skip
    told, same = json.loads(told), json.loads(same)
    reply = told.pop("reply")
    # Right stars or not and the stop are the same, in words that need no manual.
    assert "98 in 100" in told["sentence"]
    assert "Most likely (98 in 100) both stars were right" in reply
    for word in ("--clock", "cone", "squareness", "sighting", *JARGON):
        assert word not in reply, word
    same.pop("from_logbook", None)
    assert told == same


def test_its_times_are_on_the_sites_clock():
    text = "After Rigel at 7:42pm and Deneb at 7:43pm the display shows +3.1"
    out = json.loads(_why("--coach", text, *WHERE, "--json"))
    assert out["pair"]["seconds"] == pytest.approx(60.0)
    assert out["shown_deg"] == 3.1


@settings(max_examples=tries(50, 150), deadline=None)
@example(["Capella", "7:42pm", "-1822", "alt"])
@given(
    st.lists(
        st.one_of(
            st.sampled_from(
                ["Capella", "Rigel", "az", "alt", "7:42pm", "61.2", "-1822", "+1.4", ";", "\n",
                 "and", "shows", "Sun", "the", "UTC", "28.01.2027", "25:99", "°", "N 61 E",
                 "quarter to 8"]
            ),
            st.text(max_size=6),
        ),
        max_size=14,
    )
)  # fmt: skip
def test_no_text_is_refused(words):
    text = " ".join(words)
    for at in (EVENING, NOWHERE):
        found = follow(read_message(text), at, PRIORS, NOISE, Kit())
        assert say.answer(found, at)
        assert say.verdict(found)


@pytest.mark.parametrize(
    ("text", "has", "asks"),
    [
        ("cant find anything!!! the goto thing is fine but m13 isnt there",
         "there and faint", Ask.START),
        ("it's cloudy now. should I pack up?", "please: when it has cleared, put", Ask.START),
        ("the altitude just shows 90 all the time", "is not being counted", Ask.WHICH_STAR),
        ("i have no idea where north is", "need not know where north is", Ask.START),
        ("sun is still up, can I align on it?", "please: when it is dark, put", Ask.START),
        ("the scale on my base only goes to 180 and then back, is that a problem?",
         "Past 180 write 360", Ask.WHICH_STAR),
        ("why does it say 14 in 100? I did two stars like you said",
         "how many of your targets", Ask.START),
        ("Can you just tell me which stars to use tonight? Im in Lisbon",
         "Take two bright stars in different directions", Ask.START),
    ],
)  # fmt: skip
def test_a_plain_question_is_answered_first(text, has, asks):
    told = read_message(text)
    assert told.number_deg is None
    f = follow(told, NOWHERE, Priors.from_kit(Kit()), Noise.from_kit(Kit()), Kit())
    assert has in say.answer(f, NOWHERE)
    assert f.ask is asks


@pytest.mark.parametrize(
    ("text", "stars"),
    [
        ("I did Polaris first, then I think it was Capella but there were two bright ones. the "
         "numbers were 12.5 / 44 and 201.3 / 38.9",
         [("Polaris", 12.5, 44.0), ("Capella", 201.3, 38.9)]),
        ("wrote on paper: Deneb az 283.4 alt 61.2 21h15, Altair 190,5 / 44,0 at 21h22",
         [("Deneb", 283.4, 61.2), ("Altair", 190.5, 44.0)]),
        ("screen says ALT 47.2 AZ 003.9 star 1 Dubhe ok star 2 Spica ok off by -0.8",
         [("Dubhe", 3.9, 47.2)]),
        ("Bonjour, j'ai pointé Véga à 21h30, azimut 275 hauteur 62", [("Vega", 275.0, 62.0)]),
    ],
)  # fmt: skip
def test_numbers_after_all_the_stars_and_hours_with_an_h(text, stars):
    told = read_message(text).stars
    assert [(s.thing.label, s.az.degrees, s.alt.degrees) for s in told if s.whole] == stars
    clocks = [s.clock.seconds for s in told if s.clock]
    assert all(21 * 3600 <= c < 22 * 3600 for c in clocks)


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("Hallo, ich habe mein Teleskop auf Wega gerichtet und es zeigt nicht das richtige an",
         "Please write for Vega: "),
        ("Bonjour, je ne sais pas où est le nord et mon télescope ne montre pas les étoiles",
         "Please write: the star, "),
        ("Hola, mi telescopio no muestra las estrellas que busco y no sé por qué",
         "Please write: the star, "),
    ],
)  # fmt: skip
def test_another_language_is_told_so_and_asked_in_few_words(text, asks):
    f = follow(read_message(text), NOWHERE, Priors.from_kit(Kit()), Noise.from_kit(Kit()), Kit())
    told = say.answer(f, NOWHERE)
    assert told.startswith("I read only English."), told
    assert asks in told.splitlines()[-1], told
