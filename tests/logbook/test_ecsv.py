"""The ECSV export, read by the library the format comes from."""

from __future__ import annotations

from pathlib import Path

import astropy.units as u
import pytest
from astropy.table import Table
from astropy.time import Time
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands.log import command
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

NASTY = 'He said "Vega", α; #1\\'


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.sqlite3"
    start = Instant.parse("2027-01-28T17:05:00Z")
    with Logbook.open(path) as b:
        site = Site(47.2, 11.6, 940.0, name='Ridge "über" #2')
        outing = b.start_outing(site, kits.example(), kits.example_text(), start)
        for i, name in enumerate(("Capella", NASTY)):
            at = start.plus_seconds(61.25 * i)
            s = Sighting(name, 10.0 + i / 3.0, 40.0, 118.123456789, 39.0, at, "32 mm")
            b.add_sighting(outing.id, s, "typed")
    return path


def test_astropy_reads_it(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "sightings.ecsv"
    done = CliRunner().invoke(
        command, ["--logbook", str(book), "export", "last", "--ecsv", "-o", str(out)]
    )
    assert done.exit_code == 0, done.output
    t = Table.read(out, format="ascii.ecsv")
    assert len(t) == 2
    assert t["az_reading"].unit == u.deg
    assert t["true_alt"].description == "observed altitude, with refraction"
    assert list(t["star"]) == ["Capella", NASTY]
    assert t["az_reading"][0] == 118.123456789
    assert t["true_az"][1] == 10.0 + 1.0 / 3.0
    assert list(t["used"]) == [True, True]
    apart = (Time(t["utc"][1], scale="utc") - Time(t["utc"][0], scale="utc")).to_value(u.s)
    assert apart == pytest.approx(61.25, abs=1e-6)
    assert t.meta["site"] == 'Ridge "über" #2'
    assert t.meta["lat_deg"] == 47.2
    assert t.meta["elevation_m"] == 940.0


def test_one_format_at_a_time(book: Path) -> None:
    got = CliRunner().invoke(command, ["--logbook", str(book), "export", "last", "--ecsv", "--csv"])
    assert isinstance(got.exception, UserError)
    got = CliRunner().invoke(command, ["--logbook", str(book), "export", "all", "--ecsv"])
    assert "all outings as a table" in str(got.exception)
