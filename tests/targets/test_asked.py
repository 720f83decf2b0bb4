"""Can I see it? What is said of any object, and whether it holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plumbstar.errors import UserError
from plumbstar.kit import Kit, Telescope
from plumbstar.kit import example as example_kit
from plumbstar.sky.naming import lookup
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say_asked
from plumbstar.targets.asked import (
    GOOD_CHANCE,
    Helps,
    Place,
    Visibility,
    WhyNot,
    alone,
    chance_now,
    judged_as,
    verdict_of,
)
from plumbstar.targets.model import Conditions
from plumbstar.targets.tonight import Survey

ALPS = Place(Site(47.2, 11.6, 940.0), example_kit(), Conditions(zenith_mag=21.3), Skyline())
DUSK = Instant.parse("2027-01-28T17:05:00Z")
DAWN = Instant.parse("2027-01-29T05:30:00Z")


def asked(name: str, place: Place = ALPS) -> Visibility:
    return verdict_of(lookup.find_target(name), DUSK, DAWN, place)


def test_as_the_list_says(dark_night: Survey) -> None:
    """Alone or in the whole list, one object has one verdict."""
    from plumbstar.simulate import scenario
    from plumbstar.targets.prospects import prospect

    ridge = scenario.thornback_ridge()
    place = Place(ridge.site, ridge.kit, Conditions(zenith_mag=21.5), ridge.skyline)
    light = dark_night.light
    for name in ("M42", "M51", "NGC891", "Jupiter"):
        it = judged_as(lookup.find_target(name))
        one = alone(it, light.instants[0], light.instants[-1], place)
        assert one is not None
        all_of_it = prospect(dark_night, dark_night.index_of(it.key))
        assert one.chance == pytest.approx(all_of_it.chance)
        assert (one.eyepiece, one.filter) == (all_of_it.eyepiece, all_of_it.filter)


def test_what_can_be_seen_needs_no_more() -> None:
    v = asked("M42")
    assert v.tonight is not None
    assert (v.why_not, v.later, v.helps) == (None, None, ())
    assert say_asked.answer(v) == "Yes, easily"
    assert say_asked.later(v, "") == ""


def test_out_of_season_the_next_night_is_named_and_true() -> None:
    """M 22 in January: no earlier night of those tried is good, and the named one is."""
    v = asked("M22")
    assert v.why_not is WhyNot.NOT_IN_THE_DARK
    assert v.later is not None
    again = alone(judged_as(lookup.find_target("M22")), v.later.best.plus_seconds(-1800.0),
                  v.later.best.plus_seconds(1800.0), ALPS)  # fmt: skip
    assert again is not None
    assert again.chance >= GOOD_CHANCE
    assert say_asked.later(v, "").startswith("The next good night is ")


@pytest.mark.parametrize(
    ("name", "why"),
    [("NGC5139", WhyNot.NEVER_HIGH), ("B33", WhyNot.NO_LIGHT), ("Sirius", WhyNot.UNSTEADY_AIR),
     ("IC434", WhyNot.TOO_FAINT), ("gamma CrB", None)],
)  # fmt: skip
def test_why_not(name: str, why: WhyNot | None) -> None:
    v = asked(name)
    if why is not None:
        assert v.why_not is why
        assert say_asked.why_not(v).endswith(".")
    assert v.chance < GOOD_CHANCE or v.why_not is None


def test_behind_the_skyline() -> None:
    walled = replace(ALPS, skyline=Skyline(((0, 85), (359, 85))))
    assert asked("M79", walled).why_not is WhyNot.HIDDEN


def test_what_helps_does_help() -> None:
    """Each by itself brings at least what is said, where it is made true."""
    city = replace(ALPS, sky=Conditions(zenith_mag=18.5))
    v = asked("M33", city)
    assert v.why_not is not None
    dark = dict(v.helps)[Helps.DARK_SITE]
    there = asked("M33", replace(ALPS, sky=Conditions(zenith_mag=21.8)))
    assert there.chance >= dark - 0.1
    assert "a dark mountain sky" in say_asked.helps(v)
    assert Helps.STEADY_AIR in dict(asked("Sirius").helps)


def test_a_star_by_itself() -> None:
    assert asked("Vega").chance > 0.99
    faint = Place(ALPS.site, Kit(telescope=Telescope(aperture_mm=30, focal_length_mm=150)),
                  Conditions(zenith_mag=17.0), Skyline())  # fmt: skip
    assert asked("Vega", faint).chance > 0.99


def test_the_sun_is_refused() -> None:
    with pytest.raises(UserError, match="never looked for"):
        asked("Sun")


def test_at_this_moment() -> None:
    wide = ALPS.kit.eyepiece[0]
    up = DUSK.plus_seconds(4 * 3600.0)
    assert (chance_now(lookup.find_target("M42"), up, wide, ALPS) or 0.0) > 0.95
    assert chance_now(lookup.find_target("M11"), up, wide, ALPS) is None
    assert (chance_now(lookup.find_target("IC434"), up, wide, ALPS) or 0.0) < 0.25
    assert chance_now(lookup.find_target("M42"), DUSK.plus_seconds(-6 * 3600.0), wide, ALPS) is None
