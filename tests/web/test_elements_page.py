"""Prepare says which files of elements are here, how old they are, and what to do."""

from pathlib import Path

from plumbstar.logbook import elements_file

from .server_rig import asynchronous, rig

COMETS = Path(__file__).parents[1] / "authorities" / "comets_invented.txt"


@asynchronous
async def test_the_files_their_age_and_what_to_do(tmp_path, monkeypatch):
    folder = tmp_path / "elements"
    monkeypatch.setenv(elements_file.ENVIRONMENT, str(folder))
    async with rig(tmp_path) as r:  # on 2027-01-28
        none = await r.get("/data/elements")
        assert (none["state"], none["files"]) == ("none", [])
        assert str(folder) in none["deed"]
        folder.mkdir()
        (folder / "comets.txt").write_text(COMETS.read_text() + "spoilt\nspoilt\n")
        (folder / "notes.txt").write_text("hello\n")
        some = await r.get("/data/elements")
        assert (some["state"], some["short"]) == ("old", "some old")
        comets, notes = some["files"]
        # Epochs 2026-11-21, 2026-08-10 and 2027-01-01; comets are old after 100 days.
        assert comets["words"] == "3 comets, elements 28 to 172 days from today: 1 old"
        assert comets["bad_count"] == 2
        assert comets["bad"].endswith("1 more line of it cannot be read.")
        assert notes["words"] == "nothing in it can be read"
        assert "newer file" in some["deed"]
        (folder / "comets.txt").write_text(COMETS.read_text().splitlines()[2])
        assert (await r.get("/data/elements"))["deed"] == ""
