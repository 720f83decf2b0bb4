"""Both stars of every listed pair, Saturn's ring and Jupiter's moons: as drawn and as said."""

from __future__ import annotations

import json
import math
from functools import cache

import pytest

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.eyeview import EyeView, eye_view, finder_view, say, svg, thumbnail
from plumbstar.simulate import scenario
from plumbstar.sky import jovian
from plumbstar.sky.bodies import Body
from plumbstar.sky.jovian import Hidden
from plumbstar.sky.lists import doubles
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant

SITE = scenario.thornback_ridge().site
NIGHT = Instant.parse("2027-01-28T20:00:00Z")
KIT = kits.example()


def test_every_listed_pair_has_both_stars_where_they_belong() -> None:
    """All pairs above 10 degrees, 79 and more: two stars are drawn, the fainter at the listed place
    from the brighter, within a quarter of the separation or 3 arcsec (a listed star has its own
    place)."""
    drawn = 0
    for pair in doubles.load():
        if math.isnan(pair.separation_arcsec) or place_of(pair, NIGHT, SITE)[1] < 10.0:
            continue
        view = eye_view(pair, NIGHT, SITE, KIT, KIT.eyepiece[1])
        arcsec = view.field_deg * 1800.0
        p = view.pair
        assert p is not None, pair.label
        if math.hypot(p.x, p.y) > 1.0 or not p.shows:
            continue
        drawn += 1
        at = [s for s in view.stars if math.hypot(s.x - p.x, s.y - p.y) < 1e-6]
        middle = [s for s in view.stars if math.hypot(s.x, s.y) < 0.5 / arcsec]
        assert len(at) == len(middle) == 1, pair.label
        now = pair.at(NIGHT.julian_year)
        apart = math.hypot(p.x, p.y) * arcsec
        least = max(3.0, 0.25 * now.separation_arcsec)
        assert apart == pytest.approx(now.separation_arcsec, abs=least), pair.label
        x, y = (p.x * arcsec, p.y * arcsec)
        north = x * view.north[0] + y * view.north[1]
        east = x * view.east[0] + y * view.east[1]
        far = math.hypot(
            north - now.separation_arcsec * math.cos(math.radians(now.position_angle_deg)),
            east - now.separation_arcsec * math.sin(math.radians(now.position_angle_deg)),
        )
        assert far <= least * 1.01, pair.label
    assert drawn >= 79


@cache
def _castor(shows: bool = True) -> EyeView:
    return eye_view(find_target("Castor"), NIGHT, SITE, KIT, KIT.eyepiece[1], shows=shows)


def test_the_pair_in_words_and_in_the_corner() -> None:
    """Castor early in 2027: 5.8 arcsec at 49 degrees by the orbit in the list."""
    said = say.sentence(_castor())
    assert said.startswith("Two stars of magnitudes 1.9 and 3.0, both white, the fainter 5.")
    assert "position angle 49°" in said
    assert "eye-inset" in svg(_castor())
    # No other star is said to be the companion.
    assert "3.0" not in said.split(";")[1]


def test_a_pair_that_will_hardly_part_is_one_star() -> None:
    view = _castor(shows=False)
    assert say.sentence(view).startswith("The two will hardly part now: the fainter 5.")
    fainter = [d for d in (svg(_castor()), svg(view)) if 'stroke-dasharray="1.5 2"' in d]
    assert fainter == [svg(view)]
    assert thumbnail(view).count("<circle") == thumbnail(_castor()).count("<circle") - 1


def test_the_ring_says_how_far_it_is_open_and_which_half_is_near() -> None:
    """1992-12-16 (Meeus, 45.a, memory): B +16.4, so the north side, the near half to the south."""
    view = eye_view(
        Body("Saturn"), Instant.parse("1992-12-16T17:00:00Z"), SITE, KIT, KIT.eyepiece[2]
    )
    assert view.disc is not None
    assert view.disc.ring_tilt_deg == pytest.approx(16.44, abs=0.05)
    near, north = view.disc.ring_near, view.north
    assert near[0] * north[0] + near[1] * north[1] < -0.9
    assert "open by 16° with its north side to us" in say.sentence(view)
    assert svg(view).count('class="eye-ring"') == 4  # two halves, in the field and in the corner


@cache
def _jupiter() -> EyeView:
    return eye_view(
        Body("Jupiter"), Instant.parse("2027-03-01T20:00:00Z"), SITE, KIT, KIT.eyepiece[2]
    )


def test_moons_stand_along_the_equator_as_the_theory_has_them() -> None:
    view = _jupiter()
    assert view.disc is not None
    d, (ex, ey) = view.disc.radius, view.equator
    # West along the equator is the way of the drift, to the equator's tilt.
    assert view.drift is not None
    assert ex * view.drift[0] + ey * view.drift[1] > 0.85
    assert len(view.moons) == 4
    for m in view.moons:
        across = -m.x * ey + m.y * ex
        assert abs(across) < d * (1.0 + 0.06 * 26.4)
        assert m.x * ex + m.y * ey == pytest.approx(m.along, abs=1e-6)


def test_moons_in_words_go_from_one_side_to_the_other() -> None:
    view, said = _jupiter(), say.sentence(_jupiter())
    seen = [m for m in view.moons if m.hidden is Hidden.NOT]
    row = said.split("From ")[1].split(": ")[1].split(".")[0].split(", ")
    x = {m.name: m.x for m in seen} | {"the planet": 0.0}
    assert sorted(row, key=x.__getitem__) == row
    assert set(row) == set(x)
    for m in view.moons:
        assert (f"{m.name} is " in said) == (m.hidden is not Hidden.NOT)
    assert svg(view).count("eye-moon") == len(seen)


def test_no_moons_when_the_planet_will_hardly_show() -> None:
    view = eye_view(
        Body("Jupiter"), Instant.parse("2027-03-01T20:00:00Z"), SITE, KIT, KIT.eyepiece[2],
        shows=False,
    )  # fmt: skip
    assert "eye-moon" not in svg(view)
    assert "eye-lit" not in svg(view)
    assert say.sentence(view).startswith("It will hardly show now: the dots are where it lies")


def test_json_has_moons_and_pair() -> None:
    from click.testing import CliRunner

    from plumbstar.commands.field import command

    at = ["--site", "47.2,11.6", "--utc", "2027-03-01T20:00:00Z", "--json"]
    told = [
        json.loads(CliRunner().invoke(command, [n, *at], catch_exceptions=False).output)
        for n in ("Jupiter", "Mizar")
    ]
    assert [m["name"] for m in told[0]["moons"]] == list(jovian.NAMES)
    assert told[0]["pair"] is None
    assert told[1]["pair"]["separation_arcsec"] == pytest.approx(14.5, abs=0.2)


FINDER = """
[finder]
view = "mirrored"
field_deg = 6.0
aperture_mm = 50
magnification = 8
"""


def test_the_finders_own_picture() -> None:
    """As this finder shows it: its field, its mirror, its stars; by eye without one."""
    m81 = find_target("M 81")
    by_eye = finder_view(m81, NIGHT, SITE, kit=KIT)
    assert (by_eye.field_deg, by_eye.view, by_eye.eyepiece) == (8.0, "upright", "")
    view = finder_view(m81, NIGHT, SITE, kit=kits.loads(FINDER))
    assert (view.field_deg, view.view, view.magnification) == (6.0, "mirrored", 8.0)
    assert view.mirrored
    assert view.limit_mag == 8.0
    # The same sky, three quarters as wide, left and right changed: star by star.
    eye = {s.name: s for s in by_eye.stars if s.name}
    both = [(eye[s.name], s) for s in view.stars if s.name in eye]
    assert len(both) >= 3
    for a, b in both:
        assert (b.x, b.y) == pytest.approx((-a.x * 8 / 6, a.y * 8 / 6), abs=1e-6)
    # Whether it shows there is not claimed: dots, and the place in words.
    assert 'fill-opacity="0.18"' not in svg(view)
    assert say.sentence(view).startswith("M 81 (Bode's Galaxy) belongs in the middle; ")


@pytest.mark.parametrize(
    ("key", "value", "wanted"),
    [
        ("field_deg", "60", "0.5 to 40"),
        ("field_deg", '"wide"', "a decimal number"),
        ("view", '"inverted"', '"upright" or "turned" or "mirrored" or "mirrored_turned"'),
        ("aperture_mm", "-5", "0 to 150"),
        ("magnification", "0", "1 to 30"),
        ("field", "6", "one of view, field_deg, aperture_mm, magnification"),
    ],
)
def test_a_wrong_finder_is_named(key: str, value: str, wanted: str) -> None:
    with pytest.raises(UserError) as e:
        kits.loads(f"[finder]\n{key} = {value}\n")
    assert f"finder.{key}" in e.value.came
    assert e.value.wanted == wanted


def test_a_finders_lens_without_its_magnification_is_named() -> None:
    with pytest.raises(UserError, match="both: of an 8x50 finder 50 and 8"):
        kits.loads("[finder]\naperture_mm = 50\n")


def test_a_planet_in_the_finder_is_a_star() -> None:
    view = finder_view(Body("Saturn"), Instant.parse("2027-01-28T17:30:00Z"), SITE)
    assert say.sentence(view).startswith("Saturn belongs in the middle; ")
    assert "eye-ring" not in svg(view)
    assert (view.stars[0].name, view.stars[0].x) == ("Saturn", 0.0)
    # Of two names that would lie on each other the brighter star's stands.
    mizar = svg(finder_view(find_target("Mizar"), NIGHT, SITE))
    assert ">Mizar<" in mizar
    assert ">Alcor<" not in mizar
