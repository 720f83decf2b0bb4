"""A reading written down by the site's clock is not typed again in UTC."""

import pytest

from plumbstar.errors import UserError
from plumbstar.mount.sightings_file import parse
from plumbstar.sky.local_time import at_clock_of

HEAD = "local_time,star,az_reading_deg,alt_reading_deg,true_az_deg,true_alt_deg\n"
ROW = "2027-01-28 19:05:12,Capella,10.5,60.25,110.1,61.0\n"


def test_the_clock_of_the_site_is_understood():
    (one,) = parse(HEAD + ROW, zone="Europe/Rome").sightings
    assert one.utc is not None
    assert one.utc.iso() == "2027-01-28T18:05:12Z"


def test_a_time_that_names_its_offset_means_that():
    row = ROW.replace("2027-01-28 19:05:12", "2027-01-28T19:05:12+03:00")
    (one,) = parse(HEAD + row, zone="Europe/Rome").sightings
    assert one.utc is not None
    assert one.utc.iso() == "2027-01-28T16:05:12Z"


def test_without_a_site_it_is_asked_whose_clock_it_is():
    with pytest.raises(UserError, match="clock time '2027-01-28 19:05:12'"):
        parse(HEAD + ROW)


def test_what_is_no_time_is_told_with_its_place():
    with pytest.raises(UserError, match="line 2, column local_time"):
        parse(HEAD + ROW.replace("19:05:12", "about seven"), zone="Europe/Rome")


@pytest.mark.parametrize(
    ("clock", "utc"),
    [("2027-03-28 03:30:00", "2027-03-28T01:30:00Z"), ("2027-10-31 02:30", "2027-10-31T00:30:00Z"),
     ("2027-07-01 00:10:00", "2027-06-30T22:10:00Z")],
)  # fmt: skip
def test_summer_time_and_midnight(clock, utc):
    assert at_clock_of(clock, "Europe/Rome").iso() == utc
