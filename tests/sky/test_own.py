"""The observer's own objects: read in many forms, refused with the line, found by name."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.errors import UserError
from plumbstar.sky.lists.deepsky import DeepSkyList
from plumbstar.sky.naming import own, own_source
from plumbstar.sky.naming.lookup import find_target, search_targets


@pytest.mark.parametrize(
    "table",
    [
        "name,ra,dec\nPair,05h35m17s,-05d23m\n",
        "Name;RA;Dec\nPair;5:35:17;-5:23\n",
        "\ufeffname\tcoordinates\r\nPair\t05h35m17s −05°23′00″\r\n",
        "# mine\n\nname,ra_deg,dec_deg\nPair,83.820833,-5.383333\n",
        "name,RA hours,Dec\nPair,5.588056,-5.383333\n",
        "name;ra_hours;dec\nPair;5,588056;-5,383333\n",
        "name,ra_deg,dec\nPair,83.820833,-5d23m\n",
        'name,position\nPair,"83.820833, -5.383333"\n',
        "seen by,name,ra,dec\nme,Pair,5h35m17s,-05 d 23 m\n",
    ],
)
def test_every_form_of_place(table):
    (o,) = own.parse(table).objects
    assert o.name == o.label == "Pair"
    assert o.ra_deg == pytest.approx(83.820833, abs=1e-4)
    assert o.dec_deg == pytest.approx(-5.383333, abs=1e-4)
    assert o.kind == "own object"


def test_numbers():
    (o,) = own.parse(
        "name,ra,dec,mag,size,minor,pa,kind\nRock,1h,2d,9.5,4,2,200,Dark Nebula\n", "x"
    ).objects
    assert (o.v_mag, o.size_arcmin, o.minor_arcmin, o.position_angle_deg) == (9.5, 4.0, 2.0, 20.0)
    # 9.5 + 2.5 log10(pi / 4 240 120), by hand.
    assert o.surface_brightness == pytest.approx(9.5 + 10.886, abs=0.001)
    assert o.surface_estimated
    assert o.kind == "dark nebula"


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "empty"),
        ("name,mag\nA,3\n", "my.csv, line 1: the heading"),
        ("name,ra,dec\nA,5h,1d\nB,5h,\n", "my.csv, line 3: no declination"),
        ("name,ra,dec\nA,5.5,1\n", "hours or degrees"),
        ("name,ra,dec\nA,25h,1d\n", "my.csv, line 2: the coordinates"),
        ("name,ra,dec\nA,5h,95d\n", "declination -90 to 90"),
        ("name,ra,dec\nA,here,there\n", "the coordinates 'here there'"),
        ("name,ra,dec\n,5h,9d\n", "my.csv, line 2: no name"),
        ("name,ra,dec\nA,5h,9d\n a ,6h,9d\n", "my.csv, line 3: the name 'a' a second time"),
        ("name,ra,dec,mag\nA,5h,9d,bright\n", "line 2, column mag: 'bright'. Wanted: a magnitude"),
        ("name,ra,dec,size\nA,5h,9d,-3\n", "size in arcminutes"),
        ("name,ra,dec,mag\nA,5h,9d,nan\n", "column mag: 'nan'"),
        ("name,ra,dec,minor\nA,5h,9d,3\n", "a short axis without a long one"),
        ("name,ra,dec\nA,5h,9d,7,8\n", "my.csv, line 2: 5 values. Wanted: 3, one for each column"),
        ("name,ra,dec,RA\nA,5h,9d,7\n", "the column 'RA' twice"),
        ("name,ra,dec\nA;B,5h,9d\n", "none of them ; or |"),
    ],
)
def test_clear_errors(table, said):
    with pytest.raises(UserError) as e:
        own.parse(table, "my.csv")
    assert said in str(e.value)


def test_a_name_that_means_something_else_is_refused():
    with pytest.raises(UserError, match="which is M 31 already"):
        own.parse("name,ra,dec\nM31,5h,9d\n", "x", lambda n: "M 31" if n == "M31" else None)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.floats(0.0, 359.999), st.floats(-90.0, 90.0), st.one_of(st.just(np.nan), st.floats(-5, 20))
)
def test_written_and_read_back(ra, dec, mag):
    (first,) = own.parse(f"name,ra_deg,dec\nA b,{ra:.5f},{dec:.5f}\n").objects
    table = own.to_csv([first])
    again = own.parse(table).objects
    assert own.to_csv(again) == table
    assert again[0].ra_deg == pytest.approx(first.ra_deg, abs=1e-5)
    assert again[0].dec_deg == pytest.approx(first.dec_deg, abs=1e-5)


@pytest.fixture
def mine():
    listed = DeepSkyList.of(
        own.parse(
            "name,ra,dec,mag\nUncle's pair,05h35m17s,-05d23m,8.5\nSharp patch,1h,2d,\n"
        ).objects
    )
    own_source.use(lambda: listed)
    yield listed
    own_source.use(None)


def test_found_by_name_and_in_the_search(mine):
    assert find_target("uncles  PAIR") is mine[0]
    assert search_targets("uncl")[0] is mine[0]
    assert mine[1] in search_targets("sharp")
    with pytest.raises(UserError, match="Uncle's pair"):
        find_target("Uncles piar")
    assert find_target("Vega").label == "Vega"


def test_nothing_is_found_without_a_source():
    with pytest.raises(UserError):
        find_target("Uncle's pair")


def test_a_list_that_cannot_be_read_stops_no_other_name():
    def broken():
        raise UserError("line 3 of objects.csv: no declination", "both", "Mend it")

    own_source.use(broken)
    try:
        assert find_target("M 31").key == "M31"
        assert search_targets("m 31")[0].key == "M31"
        with pytest.raises(UserError, match="line 3 of objects"):
            find_target("Uncle's pair")
    finally:
        own_source.use(None)
