"""``plumbstar objects``: kept beside the logbook, all or none, found by the other commands."""

import contextlib
import io
import json
import sys

import pytest

from plumbstar import cli
from plumbstar.logbook import own_file


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(tmp_path / "kept" / "logbook.sqlite3"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my.csv").write_text("name,ra,dec,mag\nUncle's pair,05h35m17s,-05d23m,8.5\n")
    return tmp_path


def run(monkeypatch, *words, stdin=""):
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "argv", ["plumbstar", *words])
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO((stdin or "").encode())))
    code = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            cli.main()
        except SystemExit as e:
            code = e.code
    return code, out.getvalue(), err.getvalue()


def test_add_list_find_export_remove(place, monkeypatch):
    assert run(monkeypatch, "objects", "add", "my.csv")[1] == (
        "1 object added; 1 object in your list.\n"
    )
    assert (place / "kept" / "objects.csv").exists()
    code, out, _ = run(monkeypatch, "objects", "list", "--json")
    (o,) = json.loads(out)["objects"]
    assert (code, o["name"], o["v_mag"], o["size_arcmin"]) == (0, "Uncle's pair", 8.5, None)
    when = ("--site", "47.2,11.6,940", "--utc", "2027-01-28T18:30:00Z")
    code, out, _ = run(monkeypatch, "places", "uncles pair", *when)
    assert code == 0
    assert "Uncle's pair" in out
    assert run(monkeypatch, "objects", "export", "out.csv")[0] == 0
    assert run(monkeypatch, "objects", "remove", "UNCLES PAIR")[1].startswith("Removed Uncle's")
    assert run(monkeypatch, "places", "uncles pair", *when)[0] == 1
    assert run(monkeypatch, "objects", "add", "out.csv")[0] == 0
    _, out, _ = run(monkeypatch, "objects", "export")
    assert out == (place / "out.csv").read_text()


def test_all_or_none(place, monkeypatch):
    run(monkeypatch, "objects", "add", "my.csv")
    before = (place / "kept" / "objects.csv").read_bytes()
    table = "name,ra,dec\nNew,1h,2d\nBad,1h,\n"
    code, _, err = run(monkeypatch, "objects", "add", "-", stdin=table)
    assert code == 1
    assert "standard input, line 3: no declination" in err
    table = "name,ra,dec\nNew,1h,2d\nuncle's pair,1h,2d\n"
    code, _, err = run(monkeypatch, "objects", "add", "-", stdin=table)
    assert "in your list already" in err
    assert "Nothing was removed" in run(monkeypatch, "objects", "remove", "Uncle's pair", "x")[2]
    assert (place / "kept" / "objects.csv").read_bytes() == before
    code, out, _ = run(monkeypatch, "objects", "add", "-", "--replace", stdin=table)
    assert out == "1 object added, 1 replaced; 2 objects in your list.\n"


@pytest.mark.parametrize(
    ("name", "is_"),
    [
        ("M 31", "M 31 (Andromeda Galaxy)"), ("vega", "Vega"), ("alf Lyr", "Vega"),
        ("Jupiter", "Jupiter"), ("10 20", "a pair of coordinates"), ("Orion nebula", "M 42"),
    ],
)  # fmt: skip
def test_names_already_taken_are_refused(place, monkeypatch, name, is_):
    code, _, err = run(monkeypatch, "objects", "add", "-", stdin=f"name,ra,dec\n{name},1h,2d\n")
    assert code == 1
    assert f"which is {is_}" in err


def test_errors(place, monkeypatch):
    assert "Check the path" in run(monkeypatch, "objects", "add", "none.csv")[2]
    (place / "bad.csv").write_bytes(b"name,ra,dec\n\xff\xfe,1h,2d\n")
    assert "UTF-8" in run(monkeypatch, "objects", "add", "bad.csv")[2]
    assert "No objects of your own yet" in run(monkeypatch, "objects", "list")[1]
    assert "No name was given" in run(monkeypatch, "objects", "remove")[2]
    (place / "out.csv").write_text("mine")
    assert "--force" in run(monkeypatch, "objects", "export", "out.csv")[2]
    (place / "kept").write_text("a file where the folder should be")
    assert "Nothing was saved" in run(monkeypatch, "objects", "add", "my.csv")[2]


def test_a_file_that_changes_is_read_again(place):
    path = place / "objects.csv"
    path.write_text("name,ra,dec\nOne,1h,2d\n")
    assert [o.name for o in own_file.load(path)] == ["One"]
    path.write_text("name,ra,dec\nOne,1h,2d\nTwo,1h,2d\n")
    assert [o.name for o in own_file.load(path)] == ["One", "Two"]
