"""Earth orientation read by offset: the same as reading the whole file, and sane outside it."""

from pathlib import Path

import astropy_iers_data
import erfa
import numpy as np
import pytest
from skyfield.data import iers

from plumbstar.sky import earth
from plumbstar.sky.times import Instant


def _instant(mjd: float) -> Instant:
    day = np.floor(mjd)
    return Instant(float(day + 2400000.5), float(mjd - day))


def test_agrees_with_another_reader_of_the_file():
    """Skyfield's parser (regular expressions over the whole file) is the other reader."""
    with open(astropy_iers_data.IERS_A_FILE, "rb") as f:
        whole = iers.parse_x_y_dut1_from_finals_all(f)
    pick = np.random.default_rng(3).choice(len(whole), 60)
    for row in whole[pick]:
        eo = earth.orientation(_instant(row["utc_mjd"]))
        assert eo.dut1_s == pytest.approx(row["dut1"], abs=1e-9)
        assert np.degrees(eo.xp_rad) * 3600 == pytest.approx(row["x_arcseconds"], abs=1e-9)
        assert np.degrees(eo.yp_rad) * 3600 == pytest.approx(row["y_arcseconds"], abs=1e-9)
    last = whole["utc_mjd"].max()
    assert earth.table_end() == _instant(last)


def test_runs_smoothly_into_a_leap_second():
    """UT1-UTC was -0.408 s before and +0.592 s after 2017-01-01 (IERS Bulletin C 52 and A)."""
    before = earth.orientation(Instant.parse("2016-12-31T23:59:59Z")).dut1_s
    after = earth.orientation(Instant.parse("2017-01-01T00:00:01Z")).dut1_s
    assert before == pytest.approx(-0.408, abs=0.001)
    assert after - before == pytest.approx(1.0, abs=1e-4)
    noon = earth.orientation(Instant.parse("2016-12-31T12:00:00Z")).dut1_s
    assert noon == pytest.approx(-0.408, abs=0.002)


def test_held_after_the_end_and_zero_before_the_start():
    end = earth.table_end()
    inside, outside = end.plus_seconds(-60.0), end.plus_seconds(20 * 365.25 * 86400.0)
    assert not earth.past_table(inside)
    assert earth.past_table(outside)
    late = earth.orientation(outside)
    assert late.dut1_s == pytest.approx(earth.orientation(inside).dut1_s, abs=1e-3)
    early = earth.orientation(Instant.parse("1950-01-01T00:00:00Z"))
    assert (early.dut1_s, early.xp_rad, early.yp_rad) == (0.0, 0.0, 0.0)


def test_several_moments_are_the_same_as_one_by_one():
    moments = [Instant.parse(f"{y}-07-01T06:00:00Z") for y in (1960, 1980, 2016, 2027, 2090)]
    together = earth.orientation(moments)
    for i, t in enumerate(moments):
        assert together.dut1_s[i] == earth.orientation(t).dut1_s


def test_leap_seconds_are_the_packaged_ones():
    earth.use_leap_seconds()
    lines = [
        line.split()
        for line in Path(astropy_iers_data.IERS_LEAP_SECOND_FILE).read_text().splitlines()
        if line.strip() and not line.startswith("#")
    ]
    table = erfa.leap_seconds.get()
    assert table["tai_utc"][-1] == float(lines[-1][4])
