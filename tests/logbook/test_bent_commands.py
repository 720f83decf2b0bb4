"""Any stored value bent by one bit, in a logbook whose rows carry no check yet: every command gives
its answer or says what is the matter, and none ends in a traceback."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, seals
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views import log, why
from plumbstar.web.views.picture import PictureMaker
from samples import tries

from .test_bent import bend, filled, older

COMMANDS = (
    "log",
    "log --deleted --json",
    "log show 1 --deleted",
    "log show last --json",
    "log export 1 --csv --set-aside",
    "log export 1 --ecsv",
    "log export all --json",
    "log undo",
    "log redo",
    "log delete 1 --sighting 1",
    "log restore 1 --sighting 3",
    "log note 1 dew",
    "log purge --yes",
    "log correct-time 1 --by 60",
    "log mend shimmed --term cone",
    "log priors",
    "log report 1",
    "log backup {copy}",
    "log recover",
    "mount",
    "site",
    "serve",
)
#: Each command meets every eighteenth value; in the long form every third.
STEP = tries(18, 3)
AT = Instant.parse("2027-01-29T18:00:00Z")


def serve(path: Path) -> None:
    """The evening as it comes up, and all that the first pages are given."""
    with Logbook.open(path) as b:
        evening = Evening(b, lambda: AT)
        PictureMaker().make(evening, 1, None, None)
        for o in b.outings(deleted=True):
            log.outing(evening, o.id)
        log.outings(evening)
        why.why(why.case_of(evening))


@pytest.mark.parametrize("checked", [False, True])
def test_no_command_ends_in_a_traceback(
    tmp_path: Path, checked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = random.Random(11)
    whole = tmp_path / "whole.sqlite3"
    filled(whole, False, Logbook.open if checked else older)
    cells = [(t, c) for t, names in seals.COLUMNS.items() for c in names.split()]
    told = 0
    for k, (table, column) in enumerate(cells):
        bent = tmp_path / "bent.sqlite3"
        bent.write_bytes(whole.read_bytes())
        if not bend(bent, table, column, rng):
            continue
        raw = bent.read_bytes()
        for j, words in enumerate(COMMANDS):
            if (j + k) % STEP:
                continue
            path = tmp_path / "book.sqlite3"
            for old in tmp_path.glob("book.sqlite3*"):
                old.unlink()
            path.write_bytes(raw)
            if words == "serve":
                try:
                    serve(path)
                except UserError:
                    told += 1
                continue
            copy = tmp_path / f"copy-{k}-{j}"
            monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(path))
            done = CliRunner().invoke(group, words.format(copy=copy).split())
            copy.unlink(missing_ok=True)
            if done.exception is not None and not isinstance(
                done.exception, SystemExit | UserError
            ):
                raise AssertionError((table, column, words)) from done.exception
            told += done.exit_code != 0
    assert told > tries(7, 45)


def test_what_is_lost_for_good_is_told_in_words(tmp_path: Path) -> None:
    """'Lost for good: 1 outings' stood above an outing that was there, with its sightings."""
    path = tmp_path / "log.sqlite3"
    filled(path, False)
    assert bend(path, "outings", "site", random.Random(3))
    assert bend(path, "sightings", "star", random.Random(3))
    said = CliRunner().invoke(group, ["log", "recover", "--logbook", str(path)]).output
    assert "The logbook is back: " in said
    assert "the entry of 1 outing (where it was, and with which kit)" in said
    assert ", 1 sighting." in said
