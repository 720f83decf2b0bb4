"""Good copies as generations, and a logbook that is emptied, lost or begun anew beside them."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbstar.errors import UserError
from plumbstar.logbook import (
    Logbook,
    LogbookTrouble,
    Trouble,
    copies,
    good_copy,
    keep_copy,
    recover,
    set_aside,
    trouble_beside_copy,
)
from plumbstar.logbook.contents import generations
from plumbstar.sky.times import Instant

from .rig import CAPELLA, RIGEL, outing

NOON = 1_700_000_000.0
AT = Instant.parse("2027-01-20T18:00:00Z")


def stars(path: Path) -> list[str]:
    with Logbook.open(path, create=False) as b:
        return [s.sighting.star for o in b.outings() for s in b.sightings(o.id)]


def filled(path: Path) -> None:
    with Logbook.open(path) as b:
        n = outing(b)
        for _ in range(3):
            b.add_sighting(n, CAPELLA, "typed")
        keep_copy(b)


def gone(path: Path) -> None:
    path.unlink()


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def blank(path: Path) -> None:
    path.unlink()
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 0")
    db.execute("CREATE TABLE t (x)")
    db.execute("DROP TABLE t")
    db.commit()
    db.close()


@pytest.mark.parametrize(
    ("harm", "kind"),
    [(gone, Trouble.MISSING), (emptied, Trouble.EMPTIED), (blank, Trouble.EMPTIED)],
)
def test_no_logbook_is_begun_unasked_beside_a_copy(
    path: Path, harm: Callable[[Path], None], kind: Trouble, log: Callable[..., str]
) -> None:
    filled(path)
    harm(path)
    copy = good_copy(path).read_bytes()
    with pytest.raises(LogbookTrouble) as e:
        Logbook.open(path)
    assert e.value.kind is kind
    assert "1 outing with 3 sightings" in e.value.remedy
    assert f"plumbstar log recover --logbook {path}" in e.value.remedy
    assert good_copy(path).read_bytes() == copy
    assert "1 outing with 3 sightings" in log("recover")
    assert stars(path) == ["Capella"] * 3


def test_going_on_without_the_copy_keeps_it(path: Path, log: Callable[..., str]) -> None:
    filled(path)
    path.unlink()
    said = log("recover", "--go-on-without")
    (kept,) = path.parent.glob("*-kept-*")
    assert str(kept) in said
    assert stars(kept) == ["Capella"] * 3
    with Logbook.open(path) as b:
        assert b.outings() == ()
        b.add_sighting(outing(b), RIGEL, "typed")
        keep_copy(b)
    assert stars(good_copy(path)) == ["Rigel"]
    assert stars(kept) == ["Capella"] * 3


def test_a_fuller_copy_is_never_replaced_by_another_logbook(path: Path) -> None:
    filled(path)
    path.rename(path.with_name("elsewhere"))
    good = good_copy(path).rename(path.with_name("kept"))
    with Logbook.open(path) as b:  # begun while the copy was away
        b.add_sighting(outing(b), RIGEL, "typed")
        good.rename(good_copy(path))
        before = good_copy(path).read_bytes()
        with pytest.raises(LogbookTrouble) as e:
            keep_copy(b)
        assert e.value.kind is Trouble.EMPTIER
    assert good_copy(path).read_bytes() == before
    found = trouble_beside_copy(path)
    assert found is not None
    assert found.kind is Trouble.EMPTIER
    done = recover(path)  # both, as both are the observer's
    assert done.added["sightings"] == 1
    assert sorted(stars(path)) == ["Capella"] * 3 + ["Rigel"]
    assert done.damaged is not None
    assert stars(done.damaged) == ["Rigel"]
    assert trouble_beside_copy(path) is None


def test_a_purge_is_asked_for_and_what_it_removed_stays_in_a_generation(path: Path) -> None:
    filled(path)
    with Logbook.open(path) as b:
        b.delete_outing(1)
        b.purge()
        keep_copy(b)
        assert stars(good_copy(path)) == []
    (older,) = generations(path)
    assert stars(older) == ["Capella"] * 3
    assert trouble_beside_copy(path) is None


def test_generations_reach_back_far_and_are_few(path: Path) -> None:
    """A copy an hour for ten days, then one a day for a year."""
    times = [NOON + 3600.0 * h for h in range(240)]
    times += [times[-1] + 86400.0 * d for d in range(1, 366)]
    for k, unix in enumerate(times):
        made = Path(f"{good_copy(path)}-{k}")
        made.touch()
        os.utime(made, (unix, unix))
        copies._thin(path)
    ages = [(times[-1] - p.stat().st_mtime) / 86400.0 for p in generations(path)]
    assert len(ages) == 6
    assert ages[-1] == 0.0
    assert ages[0] > 370.0  # the very first
    assert any(0.0 < a < 4.0 for a in ages)
    assert any(4.0 < a < 60.0 for a in ages)
    # A clock that has stood in 1970 makes nothing younger old.
    made = Path(f"{good_copy(path)}-late")
    made.touch()
    os.utime(made, (100.0, 100.0))
    copies._thin(path)
    after = [p.stat().st_mtime for p in generations(path)]
    assert len(after) == 6
    assert after[-1] == times[-1]


def test_without_the_last_copy_a_generation_brings_it_back(path: Path) -> None:
    filled(path)
    os.utime(good_copy(path), (NOON, NOON))
    with Logbook.open(path) as b:
        b.add_sighting(1, RIGEL, "typed")
        keep_copy(b)
    assert len(generations(path)) == 1
    good_copy(path).write_bytes(b"spoilt")
    path.write_bytes(b"spoilt, too")
    with pytest.raises(UserError, match="damaged"):
        Logbook.open(path)
    done = recover(path)
    assert done.copy == generations(path)[0]
    assert stars(path) == ["Capella"] * 3


def test_several_kept_at_once_have_names_of_their_own(path: Path) -> None:
    filled(path)
    os.utime(good_copy(path), (NOON, NOON))
    with Logbook.open(path) as b:
        b.add_sighting(1, RIGEL, "typed")
        keep_copy(b)
    for p in (good_copy(path), *generations(path)):
        os.utime(p, (NOON, NOON))
    assert len(set(set_aside(path))) == 2
    assert not good_copy(path).exists()


def much(path: Path) -> set[str]:
    """Of 40 outings each with a note that fills a page; its good copy; all that was noted."""
    with Logbook.open(path) as b:
        for k in range(40):
            b.add_note(outing(b), f"{k} " + "x" * 3000, AT)
        keep_copy(b)
    return noted(path)


def noted(path: Path) -> set[str]:
    with Logbook.open(path, create=False) as b:
        return {n.text for o in b.outings() for n in b.notes(o.id)}


def spoil(file: Path) -> bytes:
    raw = bytearray(file.read_bytes())
    middle = len(raw) // 2
    for k in range(middle, middle + 6000):
        raw[k] ^= 0x55
    file.write_bytes(raw)
    return bytes(raw)


@pytest.mark.parametrize("harm", [gone, emptied])
def test_a_damaged_copy_alone_is_asked_about_and_read_as_far_as_it_goes(
    path: Path, harm: Callable[[Path], None], log: Callable[..., str]
) -> None:
    all_of_it = much(path)
    harm(path)
    bad = spoil(good_copy(path))
    with pytest.raises(LogbookTrouble) as e:
        Logbook.open(path)
    assert e.value.kind is Trouble.COPY_DAMAGED
    assert good_copy(path).read_bytes() == bad
    assert "is damaged" in str(e.value)
    said = log("recover")
    assert 30 <= len(noted(path)) < 40
    assert noted(path) <= all_of_it
    (kept,) = path.parent.glob("*-kept-*")
    assert kept.read_bytes() == bad
    assert str(kept) in said
    assert trouble_beside_copy(path) is None


def test_a_damaged_copy_is_set_aside_and_never_replaced(path: Path) -> None:
    much(path)
    bad = spoil(good_copy(path))
    with Logbook.open(path) as b:
        b.add_note(outing(b), "later", AT)
        keep_copy(b)
    (kept,) = path.parent.glob("*-kept-*")
    assert kept.read_bytes() == bad
    assert noted(good_copy(path)) == noted(path)


def test_going_on_without_a_damaged_copy_keeps_it(path: Path, log: Callable[..., str]) -> None:
    much(path)
    gone(path)
    bad = spoil(good_copy(path))
    log("recover", "--go-on-without")
    filled(path)
    (kept,) = path.parent.glob("*-kept-*")
    assert kept.read_bytes() == bad


def test_what_a_damaged_copy_holds_comes_on_top_of_the_sound_one_before_it(
    path: Path, log: Callable[..., str]
) -> None:
    filled(path)
    good_copy(path).rename(f"{good_copy(path)}-20270101T000000")
    all_of_it = much(path)
    spoil(good_copy(path))
    gone(path)
    log("recover")
    assert 30 <= len(noted(path)) < 40
    assert noted(path) <= all_of_it
    assert stars(path) == ["Capella"] * 3
