"""The faint stars: places and brightness against Hipparcos, counts, and cells round the sky."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.sky.angles import separation_rad
from plumbstar.sky.lists import catalogue, faint
from samples import tries

ARCSEC = np.degrees(1.0) * 3600.0


@pytest.fixture(scope="module")
def whole() -> faint.Patch:
    """Both halves of the sky."""
    halves = [faint.load().near(0.0, d, 90.0) for d in (90.0, -90.0)]
    return faint.Patch(
        *(np.concatenate([getattr(h, c) for h in halves]) for c in faint.Patch.__slots__)
    )


def test_both_halves_make_the_whole(whole: faint.Patch) -> None:
    assert len(whole.ra_deg) == len(faint.load())
    assert whole.ra_deg.min() >= 0.0
    assert whole.ra_deg.max() < 360.0


def test_places_against_hipparcos() -> None:
    """Gaia's places against van Leeuwen (2007) carried 30 years: two missions, independent but
    for the proper motion. Median under 0.2 arcsec, the grain of the file's 16 bits."""
    stars = catalogue.load()
    listed = faint.load()
    gaps, mags = [], []
    for i in range(0, len(stars), 9):
        s = stars[i]
        years = faint.EPOCH - 2000.0
        dec = s.dec_deg + years * s.pm_dec_mas / 3.6e6
        ra = s.ra_deg + years * s.pm_ra_mas / 3.6e6 / np.cos(np.radians(s.dec_deg))
        near = listed.near(ra % 360.0, dec, 0.01)
        if not near.bright.any():
            gaps.append(99.0)
            continue
        k = int(np.argmin(np.where(near.bright, near.v_mag, 99.0)))
        gap = separation_rad(*np.radians([ra, dec, near.ra_deg[k], near.dec_deg[k]]))
        gaps.append(float(gap) * ARCSEC)
        mags.append(near.v_mag[k] - s.v_mag)
    assert len(gaps) > 900
    assert np.median(gaps) < 0.2
    assert np.percentile(gaps, 95) < 1.0
    assert np.mean(np.array(gaps) == 99.0) < 0.002  # 5 of 8,873 are not in Gaia
    # V by Riello et al. (2021) from G and BP-RP, against the V of another list.
    assert abs(np.median(mags)) < 0.03
    assert np.percentile(np.abs(mags), 68) < 0.08


def test_colours_against_photometry() -> None:
    """B-V by way of Gaia's colour against measured B-V, for the bright stars."""
    stars = catalogue.load()
    gaps = []
    for i in range(3000, len(stars), 23):
        s = stars[i]
        near = faint.load().near(s.ra_deg, s.dec_deg, 0.003)
        if len(near.bv) == 1 and not np.isnan(s.bv):
            gaps.append(near.bv[0] - s.bv)
    assert len(gaps) > 150
    assert abs(np.median(gaps)) < 0.03
    assert np.percentile(np.abs(gaps), 68) < 0.12


def test_counts_grow_without_a_gap_to_the_limit(whole: faint.Patch) -> None:
    """Completeness. Star counts of the whole sky brighter than V 9 and 10: 117,000 and 324,000
    (Allen, Astrophysical Quantities, 3rd ed., from memory, 10 % or so); and from half magnitude
    to half magnitude the number grows by 1.6 to 1.7, right up to the limit."""
    v = whole.v_mag
    assert np.sum(v <= 9.0) == pytest.approx(117_000, rel=0.15)
    assert np.sum(v <= 10.0) == pytest.approx(324_000, rel=0.15)
    edges = np.array([7.475, 7.975, 8.475, 8.975, 9.475, 9.975])
    n = np.histogram(v, edges)[0]
    growth = n[1:] / n[:-1]
    assert np.all((growth > 1.58) & (growth < 1.75)), growth


@given(st.floats(0, 360, exclude_max=True), st.floats(-90, 90), st.floats(0.05, 3.0))
@settings(max_examples=tries(20, 60), deadline=None)
def test_a_field_anywhere_is_what_a_look_at_all_stars_gives(
    whole_sky: tuple[np.ndarray, ...], ra: float, dec: float, radius: float
) -> None:
    """Cells across the zero of right ascension and over the poles miss none and repeat none."""
    all_ra, unit = whole_sky
    a, d = np.radians([ra, dec])
    centre = np.array([np.cos(a) * np.cos(d), np.sin(a) * np.cos(d), np.sin(d)])
    apart = np.degrees(2 * np.arcsin(np.linalg.norm(unit - centre, axis=1) / 2))
    wanted = np.sort(all_ra[apart < radius - 1e-6])
    most = int(np.sum(apart < radius + 1e-6))
    got = faint.load().near(ra, dec, radius)
    assert set(np.round(wanted, 9)) <= set(np.round(got.ra_deg, 9))
    assert len(wanted) <= len(got.ra_deg) <= most


@pytest.fixture(scope="module")
def whole_sky(whole: faint.Patch) -> tuple[np.ndarray, ...]:
    a, d = np.radians(whole.ra_deg), np.radians(whole.dec_deg)
    unit = np.stack([np.cos(a) * np.cos(d), np.sin(a) * np.cos(d), np.sin(d)], axis=-1)
    return whole.ra_deg, unit


def test_a_fast_star_moves() -> None:
    """61 Cyg A: 5.28 arcsec a year (Hipparcos), so 105.6 arcsec in twenty years."""
    i = catalogue.load().find_index("61 Cyg")
    s = catalogue.load()[i]
    speed = float(np.hypot(s.pm_ra_mas, s.pm_dec_mas)) / 1000.0
    places = []
    for year in (2020.0, 2040.0):
        near = faint.load().near(s.ra_deg, s.dec_deg, 0.1, year)
        k = int(np.argmin(near.v_mag))
        places.append((near.ra_deg[k], near.dec_deg[k]))
    gap = float(separation_rad(*np.radians(places).ravel())) * ARCSEC
    assert speed > 5.0
    assert gap == pytest.approx(20.0 * speed, rel=0.01)
