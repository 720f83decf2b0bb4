"""Verdicts that observers would contradict if they were wrong. Common practice, no source, but
where a source is named."""

from __future__ import annotations

import math
from typing import cast

import numpy as np
import pytest

from plumbstar.kit import Eyepiece, Filter, Kit, Telescope
from plumbstar.sky import glow
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets import eye
from plumbstar.targets.model import Conditions, Prospect, SeenPart
from plumbstar.targets.prospects import prospect
from plumbstar.targets.reasons import reason
from plumbstar.targets.tonight import survey

NORTH, SOUTH = Site(47.2, 11.6, 940.0), Site(-31.5, 149.0, 600.0)
JANUARY, JULY, MARCH = (
    Instant.parse(t)
    for t in ("2027-01-08T18:00:00Z", "2027-07-06T21:00:00Z", "2027-03-08T20:00:00Z")
)


def kit(
    aperture_mm: float, ratio: float = 5.0, *filters: Filter, eyepieces: tuple[float, ...] = ()
) -> Kit:
    focal = ratio * aperture_mm
    mm = eyepieces or tuple(ratio * exit_pupil for exit_pupil in (6.1, 4.0, 2.5, 1.6, 1.0))
    return Kit(
        telescope=Telescope(aperture_mm=aperture_mm, focal_length_mm=focal),
        eyepiece=tuple(
            Eyepiece(name=f"{x:.3g} mm", focal_length_mm=x, apparent_field_deg=60.0) for x in mm
        ),
        filters=filters,
    )


def seen(
    name: str, k: Kit, zenith_mag: float, when: Instant = JANUARY, site: Site = NORTH,
    seeing_arcsec: float = 2.5,
) -> Prospect:  # fmt: skip
    """One object or pair, judged alone over four hours."""
    sky = Conditions(zenith_mag=zenith_mag, seeing_arcsec=seeing_arcsec)
    pairs = [d for d in doubles.load() if name in (d.star.name, d.label)]
    found = deepsky.load().match(name)
    objects = DeepSkyList.of([] if pairs or found is None else [found])
    s = survey(objects, pairs, when, when.plus_seconds(4 * 3600.0), site, k, sky, least_chance=0.0)
    key = pairs[0].key if pairs else cast("DeepSky", found).key
    return prospect(s, s.index_of(key))


# ---- two stars


@pytest.mark.parametrize(("aperture_mm", "least"), [(60, 0.5), (80, 0.7), (114, 0.8), (280, 0.9)])
@pytest.mark.parametrize("star", ["Rigel", "Polaris"])
def test_a_bright_star_with_a_faint_companion(star: str, aperture_mm: float, least: float) -> None:
    """Rigel and Polaris are split by telescopes of 60 to 80 mm, and by every larger one."""
    assert seen(star, kit(aperture_mm, 8.0), 19.5).chance >= least


def test_a_larger_telescope_never_splits_worse_in_the_same_air() -> None:
    chances = [seen("Rigel", kit(d, 6.0), 19.5).chance for d in (60, 100, 150, 280, 600)]
    assert chances == sorted(chances)


def test_the_companion_of_sirius_stays_hard() -> None:
    assert seen("Sirius", kit(280), 20.0).difficulty == "unlikely"
    south = seen("Sirius", kit(280), 20.0, site=SOUTH, when=Instant.parse("2027-01-08T11:00:00Z"),
                 seeing_arcsec=1.0)  # fmt: skip
    assert south.chance > 0.5


# ---- galaxies, nebulae


@pytest.mark.parametrize(
    ("name", "when", "zenith_mag", "least"),
    [("M84", MARCH, 19.5, 0.7), ("M77", JANUARY, 19.5, 0.7), ("M104", MARCH, 19.5, 0.5),
     ("M87", MARCH, 19.5, 0.7), ("M32", JANUARY, 18.5, 0.9), ("M82", MARCH, 19.5, 0.9)],
)  # fmt: skip
def test_galaxies_with_a_bright_core(
    name: str, when: Instant, zenith_mag: float, least: float
) -> None:
    """In 280 mm under the sky of a suburb they are caught by the core, though the rest is gone."""
    found = seen(name, kit(280), zenith_mag, when)
    assert found.chance >= least
    assert "core" in reason(found) or found.parts[SeenPart.HALF] >= 0.0


@pytest.mark.parametrize("name", ["M74", "M101", "M33", "NGC6946"])
def test_galaxies_without_one_are_not_helped(name: str) -> None:
    assert seen(name, kit(280), 18.5, JANUARY).chance < 0.7


def test_a_nebula_with_a_cluster_is_judged_by_each() -> None:
    """The Cocoon's stars show, its nebula hardly; the Eagle's cluster is easy in any telescope."""
    cocoon = seen("IC5146", kit(280), 21.0, JULY)
    assert cocoon.shows_by is SeenPart.STARS
    assert "nebula" in reason(cocoon)
    assert "stands out" not in reason(cocoon)
    eagle = seen("M16", kit(400), 21.4, JULY)
    assert eagle.difficulty == "easy"
    assert eagle.shows_by is SeenPart.STARS


def test_a_bare_nebula_beside_the_moon_is_not_its_cluster() -> None:
    """IC 4703 at 21 degrees, the Moon 92 % lit."""
    moonlit = Instant.parse("2027-07-20T21:00:00Z")
    found = seen("IC4703", kit(280), 21.0, moonlit)
    assert found.moon_loss_mag > 0.4
    assert found.chance < 0.5
    assert "stands out" not in reason(found)


@pytest.mark.parametrize(
    ("name", "filters", "best"),
    [("NGC6992", ("narrow band", "line"), "line"), ("M97", ("narrow band",), "narrow band"),
     ("NGC7000", ("narrow band", "broadband"), "narrow band"),
     ("M31", ("narrow band", "line", "broadband"), ""), ("M13", ("line",), ""),
     ("M78", ("narrow band",), "")],
)  # fmt: skip
def test_filters(name: str, filters: tuple[Filter, ...], best: str) -> None:
    """Lines of gas gain by a filter, starlight does not; the reason says so."""
    when = JANUARY if name in ("M31", "M78", "M97") else JULY
    aperture_mm = 80 if name == "NGC7000" else 280
    without = seen(name, kit(aperture_mm), 21.0, when)
    with_it = seen(name, kit(aperture_mm, 5.0, *filters), 21.0, when)
    assert with_it.filter == best
    assert (with_it.margin_mag > without.margin_mag + 0.2) == bool(best)
    assert ("filter" in reason(with_it)) == bool(best)
    assert without.filter == ""


# ---- one law from day to dark


def test_twilight_is_one_law() -> None:
    """A star and a disc too small to have a shape are the same thing, whatever the sky.

    Sun at -4, -6 and -12 degrees, and dark: limits for a 200 mm telescope at 100 times.
    """
    sky = Conditions()
    for depth in (4.0, 6.0, 9.0, 12.0, 19.0):
        light = glow.dark_sky(21.5, np.array([1.5]), 0.2)
        light = light + glow.twilight(np.array([-math.radians(depth)]))
        mu = glow.mag_arcsec2(light)
        star = float(eye.star_limit(mu, 200.0, 100.0, sky)[0])
        tiny, small = (float(eye.disc_limit(mu, d, 200.0, 100.0, sky)[0]) for d in (0.3, 2.0))
        assert tiny == pytest.approx(star, abs=1e-9), depth
        assert small == pytest.approx(star, abs=0.2), depth


@pytest.mark.parametrize(
    ("sun_deg", "at_least", "at_most"),
    [(0.0, -3.5, 0.0), (-4.0, 0.0, 2.5), (-6.0, 1.0, 4.0), (-8.0, 2.0, 5.0), (-12.0, 4.0, 5.8),
     (-18.0, 5.5, 6.5)],
)  # fmt: skip
def test_the_naked_eye_in_twilight(sun_deg: float, at_least: float, at_most: float) -> None:
    """What choose.candidates offers (first noticed by whoever does not know where to look) is
    above the limit for who does."""
    light = glow.dark_sky(21.5, np.array([1.5]), 0.2) + glow.twilight(np.radians([sun_deg]))
    limit = float(eye.naked_eye_limit(glow.mag_arcsec2(light))[0])
    assert at_least <= limit <= at_most


def test_venus_by_day_and_nothing_else() -> None:
    """By day, about 4 magnitudes a square arcsecond (3,000 cd/m2 and more): Venus (-4.4) shows to
    who knows where, Sirius (-1.5) does not. Common practice, no source."""
    limit = float(eye.naked_eye_limit(4.0))
    assert -4.4 < limit < -1.5


# ---- eyepieces


def test_eyepieces_by_what_they_show() -> None:
    """Not always the lowest power: globulars to resolve, pairs to part, small discs to see."""
    own = kit(280, eyepieces=(32.0, 20.0, 13.0, 9.0, 6.0))
    m13 = seen("M13", own, 21.0, JULY)
    assert 90.0 <= m13.magnification <= 170.0
    castor = seen("Castor", own, 20.0)
    assert castor.magnification >= 90.0
    ring = seen("M57", own, 21.0, JULY)
    assert ring.magnification >= 90.0
    for p in (m13, castor, ring):
        assert p.second
        assert p.second != p.eyepiece
    assert seen("Pleiades", own, 21.0).eyepiece == "32 mm"
    assert seen("M31", own, 21.0).eyepiece == "32 mm"


# ---- what was never judged


@pytest.mark.parametrize(
    ("name", "site", "when", "aperture_mm", "hardest"),
    [
        ("NGC3372", SOUTH, MARCH.plus_seconds(-9 * 3600), 60, "easy"),
        ("NGC4755", SOUTH, MARCH.plus_seconds(-9 * 3600), 60, "easy"),
        ("IC2602", SOUTH, MARCH.plus_seconds(-9 * 3600), 60, "easy"),
        ("C14", NORTH, JANUARY, 60, "easy"),
        ("Hyades", NORTH, JANUARY, 60, "easy"),
        ("M40", NORTH, MARCH, 100, "easy"),
        ("HCG92", NORTH, Instant.parse("2027-09-08T20:00:00Z"), 400, "hard"),
    ],
)
def test_never_judged_before(
    name: str, site: Site, when: Instant, aperture_mm: float, hardest: str
) -> None:
    found = seen(name, kit(aperture_mm), 21.3, when, site)
    order = ("easy", "fair", "hard", "unlikely")
    assert order.index(found.difficulty) <= order.index(hardest)


def test_pairs_stay_pairs() -> None:
    assert all(isinstance(d, Double) for d in doubles.load())
