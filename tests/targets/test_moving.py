"""Comets and minor planets judged and drawn: the doubt of magnitudes, glow or point, their age."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.sky.outside import AUTHORITIES

from plumbstar import kit as kits
from plumbstar.eyeview import eye_view, finder_view, say, svg
from plumbstar.simulate import scenario
from plumbstar.sky import bodies
from plumbstar.sky.lists.deepsky import DeepSkyList
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming import mpc
from plumbstar.sky.places import place_of
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say_minor
from plumbstar.targets.asked import Place, WhyNot, chance_now, verdict_of
from plumbstar.targets.model import conditions_of
from plumbstar.targets.tonight import survey

SITE, KIT = scenario.thornback_ridge().site, kits.example()
NIGHT = Instant.parse("2027-01-28T20:00:00Z")
DAWN = NIGHT.plus_seconds(8 * 3600.0)
PLACE = Place(SITE, KIT, conditions_of(SITE, KIT), Skyline())
BODIES: dict[str, MinorBody] = {
    b.name: b
    for f in ("comets_invented.txt", "minor_invented.txt")
    for b in mpc.read((AUTHORITIES / f).read_text()).bodies
}


def _up() -> list[MinorBody]:
    """Those that stand well up at that hour."""
    return [b for b in BODIES.values() if place_of(b, NIGHT, SITE)[1] > 20.0]


def test_the_brighter_the_likelier_and_doubt_widens_the_law() -> None:
    """Chances fall with each magnitude, from sure to none; a comet's less steeply than a minor
    planet's, since its brightness is the less sure."""
    steep = {}
    for sort in ("comet", "minor planet"):
        body = replace(_up()[0], sort=sort, slope=0.15)
        by_h = [replace(body, name=f"H {h}", h_mag=float(h)) for h in np.arange(-4.0, 24.0, 0.5)]
        night = survey(
            DeepSkyList.of([]), [], NIGHT, DAWN, SITE, KIT, PLACE.sky, bodies=by_h,
            least_chance=-1.0,
        )  # fmt: skip
        seen = dict(zip((t.key for t in night.targets), night.chances.tolist(), strict=True))
        chances = [seen.get(b.key, 0.0) for b in by_h]
        assert chances == sorted(chances, reverse=True)
        assert chances[0] > 0.95
        assert chances[-1] < 0.05
        steep[sort] = -min(np.diff(chances))
    assert steep["comet"] < 0.75 * steep["minor planet"]


def test_faint_ones_of_a_long_file_are_left_out_at_once() -> None:
    body = _up()[0]
    many = [replace(body, name=f"x{i}", h_mag=25.0) for i in range(300)]
    bright = replace(body, name="bright", h_mag=2.0)
    none = DeepSkyList.of([])
    night = survey(
        none, [], NIGHT, DAWN, SITE, KIT, PLACE.sky, bodies=[*many, bright], least_chance=-1.0
    )
    assert [t.key for t in night.targets] == ["bright"]


def test_without_a_magnitude_nothing_is_judged() -> None:
    v = verdict_of(replace(_up()[0], h_mag=float("nan")), NIGHT, DAWN, PLACE)
    assert (v.tonight, v.why_not) == (None, WhyNot.NO_LIGHT)


def test_a_comet_is_a_glow_that_moves_and_a_minor_planet_a_point() -> None:
    for b in BODIES.values():
        view = eye_view(b, NIGHT, SITE, KIT, KIT.eyepiece[0])
        said, m = say.sentence(view), view.moves
        assert m is not None
        assert "an hour toward the" in said
        if b.sort == "comet":
            assert said.startswith("A pale round glow without an edge, moving by ")
            assert "its tail, if one shows, toward the" in said
            assert 'fill-opacity="0.18"' in svg(view)
            gone = eye_view(b, NIGHT, SITE, KIT, KIT.eyepiece[0], shows=False)
            assert 'fill-opacity="0.18"' not in svg(gone)
        else:
            assert said.startswith("A point like a star, the one in the middle")
            drawn = any(s.name == b.name and (s.x, s.y) == (0.0, 0.0) for s in view.stars)
            assert drawn == (bodies.magnitude(b, NIGHT) <= view.telescope_limit_mag)
            wide = finder_view(b, NIGHT, SITE)
            assert say.sentence(wide).startswith(f"{b.name} belongs in the middle; ")
            assert all(s.name != b.name for s in wide.stars)


def test_the_motion_is_where_it_goes() -> None:
    """The place three hours on lies where the picture says, among the same stars."""
    b = BODIES["(900002) Fabled"]
    now = eye_view(b, NIGHT, SITE, KIT, KIT.eyepiece[0])
    later = eye_view(b, NIGHT.plus_seconds(3600.0), SITE, KIT, KIT.eyepiece[0])
    assert now.moves is not None
    # The stars shift the other way by as much: of a star in both fields.
    shared = [
        (s, t) for s in now.stars for t in later.stars if s.name and s.name == t.name != b.name
    ] or [
        (s, t) for s in now.stars for t in later.stars
        if s.v_mag == t.v_mag and s.name == t.name == "" and abs(s.x - t.x) < 0.2
    ]  # fmt: skip
    assert shared
    s, t = shared[0]
    # The field turns a little meanwhile, so near the middle only the length is held.
    moved = np.hypot(s.x - t.x, s.y - t.y) * now.field_deg * 1800.0
    far = np.hypot(s.x, s.y) * now.field_deg * 1800.0
    assert moved == pytest.approx(now.moves.arcsec_per_hour, abs=0.27 * far + 5.0)


def test_old_elements_are_told_and_too_old_ones_warned_of() -> None:
    b = BODIES["C/2026 Z1 (Invented)"]
    fresh, old, too_old = (
        say_minor.age(b, Instant.parse(f"{d}T20:00:00Z"))
        for d in ("2026-12-20", "2027-04-20", "2028-01-20")
    )
    assert fresh == "By elements of 2026-11-21, 30 days before this."
    assert old.endswith("They are old: it may stand some arcminutes aside. Fetch newer ones.")
    assert too_old.endswith("They are too old: it may stand outside the field. Fetch newer ones.")
    assert "give or take 1" in say_minor.brightness(b, NIGHT)
    assert "give or take 0.3" in say_minor.brightness(BODIES["(900001) Madeup"], NIGHT)


def test_seen_now_or_not_in_this_eyepiece() -> None:
    body = replace(_up()[0], h_mag=-5.0)
    chance = chance_now(body, NIGHT, KIT.eyepiece[0], PLACE)
    assert chance is not None
    assert chance > 0.9
