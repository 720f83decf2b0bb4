"""The survey of a night: places against the exact ones, verdicts against what observers find."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.kit import Eyepiece, Kit, Telescope
from plumbstar.simulate import scenario
from plumbstar.sky import glow
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.places import observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import tonight, verdict
from plumbstar.targets.light import NightLight
from plumbstar.targets.looks import looks_of
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.parting import split_need_arcsec
from plumbstar.targets.prospects import NEAR_BEST, prospect, prospects
from plumbstar.targets.reasons import reason
from plumbstar.targets.tonight import Survey, survey
from plumbstar.targets.verdict import chance_of

from .conftest import END, START, night_under

RIDGE = scenario.thornback_ridge()


def of(s: Survey, key: str) -> Prospect | None:
    try:
        return prospect(s, s.index_of(key))
    except KeyError:
        return None


def word(s: Survey, key: str) -> str:
    found = of(s, key)
    return found.difficulty if found else "unlikely"


def test_places_are_those_of_the_exact_routine(dark_night: Survey) -> None:
    """Every 400th target, every 20th step, against observed_many: within 1.5 arcsec up to 80 deg.

    What aberration taken once for the middle of the night costs; see light.py.
    """
    rows = np.arange(8, len(dark_night), 400)
    steps = np.arange(0, len(dark_night.light.instants), 20)
    targets = [dark_night.targets[i] for i in rows]
    assert not any(isinstance(t, Body) for t in targets)
    az, alt = observed_many(
        targets, [dark_night.light.instants[k] for k in steps], RIDGE.site, grid=True
    )
    got_az = np.radians(dark_night.az_deg[np.ix_(steps, rows)])
    got_alt = np.radians(dark_night.alt_deg[np.ix_(steps, rows)])
    up = (alt > math.radians(10)) & (alt < math.radians(80))
    assert up.sum() > 50
    arcsec = math.radians(1.0 / 3600.0)
    assert np.abs(got_alt - alt)[up].max() < 1.5 * arcsec
    across = np.abs(np.angle(np.exp(1j * (got_az - az)))) * np.cos(alt)
    assert across[up].max() < 1.5 * arcsec


def test_chance_is_the_normal_law() -> None:
    m = np.linspace(-4.0, 4.0, 81)
    exact = [NormalDist(0.0, verdict.SPREAD_MAG).cdf(float(x)) for x in m]
    assert chance_of(m) == pytest.approx(exact, abs=1e-7)


def test_the_moon_takes_from_what_is_faint_and_near_it() -> None:
    """The same night with the Moon up, against the same step with its light left out."""
    sky = Conditions(zenith_mag=21.5)
    light = NightLight.of(START, END, RIDGE.site, sky)
    k = np.flatnonzero(light.moon_alt > math.radians(15.0))[:1]
    alt = np.array([math.radians(50.0)])
    far, near = (light.sky_mag(k, alt, np.array([math.cos(math.radians(r))])) for r in (90, 20))
    none = light.sky_mag(k, alt, None)
    assert near < far < none
    # against the formula put together by hand
    nl = glow.nanolamberts(none) + glow.moonlight(
        light.moon_alt[k], light.moon_phase_angle, alt, math.radians(90.0), light.k
    )
    assert far == pytest.approx(glow.mag_arcsec2(nl))


@pytest.mark.parametrize(
    ("key", "dark", "city"),
    [
        # Common practice, no source: what observers with a telescope of 250 to 300 mm report.
        ("M42", {"easy"}, {"easy"}),
        ("M45", {"easy"}, {"easy"}),
        ("M13", {"easy"}, {"easy"}),
        ("M57", {"easy"}, {"easy", "fair"}),
        ("M31", {"easy"}, {"easy", "fair"}),
        ("M81", {"easy"}, {"easy", "fair", "hard"}),
        ("M51", {"easy"}, {"fair", "hard", "unlikely"}),
        ("M33", {"easy", "fair"}, {"fair", "hard", "unlikely"}),
        ("M101", {"easy", "fair"}, {"hard", "unlikely"}),
        ("M74", {"fair", "easy"}, {"unlikely"}),
        ("M97", {"easy", "fair"}, {"hard", "unlikely"}),
        ("NGC2392", {"easy"}, {"easy"}),
        ("NGC891", {"easy", "fair", "hard"}, {"unlikely"}),
        ("NGC1499", {"hard", "unlikely"}, {"unlikely"}),
        ("NGC7000", {"hard", "unlikely"}, {"unlikely"}),  # low in January, and no filter
        ("IC434", {"hard", "unlikely"}, {"unlikely"}),
    ],
)
def test_verdicts_are_what_observers_find(
    key: str, dark: set[str], city: set[str], dark_night: Survey, city_night: Survey
) -> None:
    assert word(dark_night, key) in dark
    assert word(city_night, key) in city


def pair(s: Survey, star: str) -> Prospect:
    key = next(d.key for d in doubles.load() if star in (d.star.name, d.label))
    return prospect(s, s.index_of(key))


def test_doubles_are_what_observers_find(dark_night: Survey) -> None:
    """Common practice, no source: wide bright pairs are easy, the companion of Sirius is not."""
    assert pair(dark_night, "Castor").difficulty == "easy"
    assert pair(dark_night, "Almach").difficulty == "easy"
    sirius = next((d for d in doubles.load() if d.star.name == "Sirius"), None)
    if sirius is not None:
        assert pair(dark_night, "Sirius").difficulty == "unlikely"
    closest = [prospect(dark_night, i) for i, t in enumerate(dark_night.targets)
               if isinstance(t, doubles.Double) and t.separation_arcsec < 0.4]  # fmt: skip
    assert all(p.difficulty == "unlikely" for p in closest)


def test_lewis() -> None:
    """Lewis 1914 (memory), all four rows: arcsec times inches for pairs of two magnitudes.

    4.8, 16.5 and 36 for 0.7, 3.3 and 5.7 magnitudes apart; 8.5 for a faint equal pair.
    """
    for mag_a, mag_b, need in (
        (5.7, 6.4, 4.8),
        (8.5, 9.1, 8.5),
        (6.2, 9.5, 16.5),
        (4.7, 10.4, 36.0),
    ):
        got = float(split_need_arcsec(25.4, 1e-6, mag_a, mag_b, 1.0))
        assert got == pytest.approx(need * 116.0 / 25.4 / 4.8, rel=0.07)


def test_more_of_everything_shows_more() -> None:
    """Aperture, darkness, practice and height, each by itself."""
    objects = DeepSkyList.of(
        [DeepSky("T", "", "T", "galaxy", "", 60.0, 30.0, 12.0, 3.0, minor_arcmin=2.0)]
    )

    def margin(kit: Kit, sky: Conditions, lat: float = 47.2) -> float:
        s = survey(objects, [], START, END, Site(lat, 11.6, 940.0), kit, sky)
        return float(s.margin[s.best[-1], s.index_of("T")])

    kit, sky = RIDGE.kit, Conditions(zenith_mag=21.0)
    usual = margin(kit, sky)
    large = Kit(telescope=Telescope(aperture_mm=400, focal_length_mm=2080), eyepiece=kit.eyepiece)
    assert margin(large, sky) > usual
    assert margin(kit, replace(sky, zenith_mag=21.8)) > usual
    assert margin(kit, replace(sky, practice="much")) == pytest.approx(
        usual + 2.5 * math.log10(2.0 / 1.4)
    )
    assert margin(kit, replace(sky, extinction_mag=0.6)) < usual
    assert margin(kit, sky, lat=-20.0) < usual


def test_looks() -> None:
    """The patches hold the light they should: M 31's by hand."""
    looks = looks_of(
        DeepSkyList.of(
            [DeepSky("A", "", "A", "galaxy", "", 10.0, 41.0, 8.0, 20.0, minor_arcmin=5.0,
                     sort="Sc"),
             DeepSky("B", "", "B", "dark nebula", "", 10.0, 41.0, math.nan, 20.0),
             DeepSky("C", "", "C", "open cluster", "", 10.0, 41.0, 5.0, math.nan)]
        )
    )  # fmt: skip
    whole = 8.0 + 2.5 * math.log10(math.pi / 4.0 * 20.0 * 5.0 * 3600.0)
    assert looks.brightness[0, 0] == pytest.approx(whole)
    assert looks.brightness[0, 1] == pytest.approx(whole - 2.5 * math.log10(0.5 / 0.45**2))
    assert looks.log_size[0, 0] == pytest.approx(1.0)
    assert np.all(np.isinf(looks.brightness[1]))
    assert np.isinf(looks.stars_mag[1])
    assert looks.stars_mag[2] == 8.0


def test_eyepieces(dark_night: Survey) -> None:
    """What is large gets the widest, what is small more power, planets what the air bears."""
    pleiades, eskimo, jupiter = (of(dark_night, k) for k in ("M45", "NGC2392", "Jupiter"))
    assert pleiades
    assert eskimo
    assert jupiter
    assert pleiades.eyepiece == "32 mm"
    assert eskimo.eyepiece == "9 mm"
    assert jupiter.magnification <= 480.0 / 2.5
    none = survey(DeepSkyList.of([]), [], START, END, RIDGE.site, Kit(), Conditions())
    assert {x.name for x in none.eyepiece} == {"25 mm"}


def test_windows_and_setting(dark_night: Survey, dark_prospects: list[Prospect]) -> None:
    for p in dark_prospects[::40]:
        i = dark_night.index_of(p.target.key)
        chance = dark_night.chance(i)
        at = dark_night.light.index(p.best)
        first, last = dark_night.light.index(p.first), dark_night.light.index(p.last)
        assert first <= at <= last
        assert np.all(chance[first : last + 1] >= NEAR_BEST * p.chance - 1e-9)
        if p.sets is not None:
            after = dark_night.light.index(p.sets) + 1
            assert not chance[after + 1 : after + 6].any()


def test_the_skyline_hides(dark_night: Survey) -> None:
    walled = survey(
        deepsky.load(), [], START, END, RIDGE.site, RIDGE.kit, Conditions(zenith_mag=21.5),
        Skyline(((0, 60), (359, 60))),
    )  # fmt: skip
    assert np.all(walled.alt_deg[np.isfinite(walled.margin)] >= 60.0)
    assert len(walled) < len(dark_night)


def test_reasons_name_what_decides(dark_night: Survey, city_night: Survey) -> None:
    for s in (dark_night, city_night):
        for p in prospects(s)[::25]:
            assert reason(p).endswith(".")
            i = s.index_of(p.target.key)
            if "Moonlight" in reason(p):
                assert s.moon_loss[i] >= 0.4
            if "the air takes" in reason(p):
                assert s.air_loss[i] >= 0.4
    low = of(dark_night, "M79")
    assert low
    assert "Low, at best 18° up" in reason(low)
    large = of(dark_night, "M45")
    assert large
    assert "Larger than the field" in reason(large)


def test_what_is_dropped_early_could_not_be_seen() -> None:
    """The first pass never drops what the second would show: everything followed, and compared."""
    whole = night_under(20.0)
    least = tonight.LEAST_CHANCE
    try:
        tonight.LEAST_CHANCE = -1.0
        everything = night_under(20.0)
    finally:
        tonight.LEAST_CHANCE = least
    kept = {t.key for t in whole.targets}
    lost = [p for p in prospects(everything, 0.05) if p.target.key not in kept]
    assert len(everything) > 2 * len(whole)
    assert not lost


def test_odd_places() -> None:
    """Poles, the date line, white nights: an answer, never an error."""
    sky = Conditions()
    for site, when in (
        (Site(90.0, 0.0), "2027-01-10T00:00:00Z"),
        (Site(-90.0, 0.0), "2027-07-10T00:00:00Z"),
        (Site(0.0, 180.0), "2027-03-20T08:00:00Z"),
        (Site(60.0, 20.0), "2027-06-21T21:00:00Z"),
    ):
        start = Instant.parse(when)
        s = survey(
            deepsky.load(), doubles.load(), start, start.plus_seconds(5 * 3600.0), site,
            kits.example(), sky,
        )  # fmt: skip
        assert np.isfinite(s.chances).all()
        assert len(prospects(s)) > 0
    high_day = survey(
        deepsky.load(), [], Instant.parse("2027-06-21T10:00:00Z"),
        Instant.parse("2027-06-21T12:00:00Z"), RIDGE.site, RIDGE.kit, sky,
    )  # fmt: skip
    assert len(high_day) == 0


def test_own_objects_without_a_magnitude_are_not_lost() -> None:
    """Taken as a star of magnitude 10, and the reason says so."""
    own = DeepSkyList.of(
        [DeepSky("MINE", "", "Mine", "galaxy", "", 85.0, 20.0, math.nan, math.nan)]
    )
    s = survey(DeepSkyList.of([]), [], START, END, RIDGE.site, RIDGE.kit, Conditions(), own=own)
    p = prospect(s, s.index_of("MINE"))
    assert p.difficulty == "easy"
    assert reason(p).endswith("magnitude 10 is assumed.")


def test_one_eyepiece_of_own_name() -> None:
    kit = Kit(eyepiece=(Eyepiece(name="wide", focal_length_mm=20.0, apparent_field_deg=60.0),))
    s = survey(DeepSkyList.of([]), doubles.load()[:5], START, END, RIDGE.site, kit, Conditions())
    assert {x.name for x in s.eyepiece} == {"wide"}
