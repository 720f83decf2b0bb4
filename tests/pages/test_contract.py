"""The pages' scripts use what the contract has, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from . import checker
from .declarations import SCHEMA, declarations, schema, schema_text


@pytest.fixture
def scripts(tmp_path: Path) -> Path:
    checker.lay_out(tmp_path)
    return tmp_path


def change(where: Path, name: str, old: str, new: str) -> None:
    text = (where / name).read_text()
    assert old in text
    (where / name).write_text(text.replace(old, new))


def test_the_schema_is_not_stale() -> None:
    assert SCHEMA.read_text(encoding="utf-8") == schema_text(), "run: python tools/contract.py"


def test_every_number_has_its_unit_in_its_name_or_none() -> None:
    """Lengths, angles and times are sent with their unit; what has none is named here."""
    bare = {
        "version", "id", "number", "count", "sides", "minutes", "outings", "sightings", "finds",
        "index", "since", "after", "magnification", "for_objects", "more_count", "outing",
        "seconds", "beep", "from_data", "hit_chance", "mean_hit_chance", "mean_hit_chance_now",
        "mean_hit_chance_after", "hit_chance_trusting_stop", "probability", "at_all", "chance",
        "found_by", "sighting_id", "ids", "port", "back_port", "sketches", "seen", "objects",
        # A value in the unit of the term that it belongs to, and what a check's input stands at.
        "value", "sigma", "default",
        # Scales from 1 to 5.
        "seeing", "transparency",
    }  # fmt: skip
    units = ("_deg", "_arcmin", "_arcsec", "_percent", "_m", "_mm", "_mag", "_s", "_ms", "_hours")
    ours = _sent_to_pages()
    pages = declarations().split("interface Actions")[0]
    names = {
        line.split(":")[0].strip(" ?")
        for part in pages.split("interface ")
        if part.partition(" ")[0] in ours
        for line in part.splitlines()[1:]
        if "number" in line.partition(":")[2]
    }
    assert {n for n in names if not n.endswith(units)} <= bare


def _sent_to_pages() -> set[str]:
    from plumbstar.contract import asked, done, mending, parts, picture, reading

    modules = (asked, done, mending, parts, picture, reading)
    every = schema()["$defs"]
    return {n for m in modules for n in vars(m) if n in every}


def test_the_scripts_use_nothing_else(scripts: Path) -> None:
    assert checker.faults(scripts) == []


MISSPELT = {
    "fix.js": ("state.next.do", "state.next.todo"),
    "lookup.js": ("r.hit_chance_words", "r.hit_chance_word"),
    "sight.js": ("star.alt_reading_deg", "star.reading_alt_deg"),
    "nights.js": ("p.sigma", "p.spread"),
    "tonight.js": ("plan.difficulties", "plan.words"),
    "app.js": ("moved: yes", "move: yes"),
}
UNKNOWN = {
    "find.js": ('act("clear_target")', 'act("forget_target")'),
    "own.js": ('get("/data/own")', 'get("/data/mine")'),
}
UNASKED = {
    "app.js": 'r.age_s === null ? "" : ',
    "fix.js": " || s.residual_arcmin === null",
    "prepare.js": 'p.alt_deg === null ? "" : ',
    "timing.js": "if (!best) return;",
}


#: A key that leaves the contract, and scripts that use it.
GONE, USED_IN = "hit_chance_words", ("besidefind.js", "find.js", "tonight.js")


def test_every_planted_mistake_is_told_and_nothing_else(scripts: Path) -> None:
    """One run for all of them, which takes seconds: and in one test, so that no other worker does
    the same."""
    change(scripts, "contract.d.ts", f"  {GONE}: string;\n", "")
    for mistakes in (MISSPELT, UNKNOWN, {name: (asks, "") for name, asks in UNASKED.items()}):
        for name, (old, new) in mistakes.items():
            change(scripts, name, old, new)
    (scripts / "loose.js").write_text("export const loose = (state) => state.nothing;\n")
    told = checker.faults(scripts)

    def tells(name: str, what: str) -> bool:
        return any(f.startswith(f"{name}:") and what in f for f in told)

    assert {f.partition(":")[0] for f in told} == {
        *(*MISSPELT, *UNKNOWN, *UNASKED, "loose.js", *USED_IN)
    }
    assert all(tells(name, f"'{GONE}'") for name in USED_IN)
    for name, (_, new) in MISSPELT.items():
        assert tells(name, f"'{new.rpartition('.')[2].partition(':')[0]}'"), name
    assert tells("find.js", "forget_target")
    assert tells("own.js", "/data/mine")
    for name in UNASKED:
        assert tells(name, "null"), name
    assert tells("loose.js", "implicitly has an 'any' type")


def test_the_schema_names_every_field_that_is_sent() -> None:
    picture = schema()["$defs"]["Picture"]
    assert picture["required"] == sorted(picture["properties"])
    assert json.loads(SCHEMA.read_text(encoding="utf-8"))["$defs"]["Picture"] == picture
