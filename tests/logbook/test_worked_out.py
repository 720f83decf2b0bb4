"""What is kept of the reckoning is what would be reckoned anew, or it is not used."""

from __future__ import annotations

import errno
import math
from dataclasses import dataclass, replace
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.diagnose import evidence, learn, teach
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, worked_out
from plumbstar.logbook.fingerprint import fingerprint
from plumbstar.logbook.worked_out import WorkedOut, kind, place
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.times import Instant
from plumbstar.units import Array

START = Instant.parse("2027-01-03T19:00:00Z")


@dataclass(frozen=True)
class Told:
    values: Array
    word: str


asked: list[float] = []


def told(times: float, of: Told) -> Told | None:
    asked.append(times)
    return Told(of.values * times, of.word) if times else None


RESULT = kind(Told | None)
GIVEN = Told(np.array([[1.5, np.inf], [np.nan, -0.0]]), "stop")


@pytest.fixture
def book(tmp_path):
    """Three evenings of three stars with a stop 0.8 degrees off."""
    kit, rng = Kit(), np.random.default_rng(4)
    with Logbook.open(tmp_path / "logbook.sqlite3") as made:
        for i in range(3):
            utc = START.plus_seconds(86400.0 * i)
            o = made.start_outing(None, kit, "", utc)
            for az, alt in ((40.0, 35.0), (160.0, 55.0), (260.0, 25.0)):
                off = rng.normal(0, 0.05, 2)
                s = Sighting("a star", az, alt, az + 30 + off[0], alt - 0.8 + off[1], utc)
                made.add_sighting(o.id, s, "typed")
        yield made


def test_a_second_asking_finds_the_same_and_works_nothing_out(book):
    asked.clear()
    with WorkedOut.beside(book) as known:
        first = known.of(RESULT, told, 2.0, GIVEN), known.of(RESULT, told, 0.0, GIVEN)
    with WorkedOut.beside(book) as known:
        again = known.of(RESULT, told, 2.0, GIVEN), known.of(RESULT, told, 0.0, GIVEN)
        other = known.of(RESULT, told, 3.0, GIVEN)
    assert asked == [2.0, 0.0, 3.0]
    assert again[0].values.tobytes() == first[0].values.tobytes()
    assert again[1] is first[1] is None
    assert other.values[0, 0] == 4.5
    again[0].values[0, 0] = 1.0  # not locked


def test_neither_another_program_nor_a_damaged_file_is_believed(book):
    asked.clear()
    where = place(book.file.path)
    with WorkedOut.beside(book) as known:
        known.of(RESULT, told, 2.0, GIVEN)
    another = mock.patch.object(worked_out, "_program", return_value=b"another")
    with another, WorkedOut.beside(book) as known:
        known.of(RESULT, told, 2.0, GIVEN)
    assert asked == [2.0, 2.0]
    raw = bytearray(where.read_bytes())
    for spoilt in (raw[:-1], raw[:40] + b"\x00" + raw[41:], b"", b"no such thing at all"):
        where.write_bytes(spoilt)
        with WorkedOut.beside(book) as known:
            assert known.of(RESULT, told, 2.0, GIVEN).values[0, 0] == 3.0
    assert len(asked) == 6
    with mock.patch.object(worked_out, "_program", return_value=b""):  # its text cannot be read
        where.unlink()
        with WorkedOut.beside(book) as known:
            known.of(RESULT, told, 2.0, GIVEN)
    assert not where.exists()


def test_only_so_much_is_kept_and_the_last_asked_for_stays(book):
    each = 16 + len(worked_out._ENCODER.encode(told(1.0, GIVEN)))
    asked.clear()
    room = mock.patch.object(worked_out, "MOST_BYTES", 2 * each + 1)
    with room, WorkedOut.beside(book) as known:
        for times in (1.0, 2.0, 3.0, 1.0, 4.0):
            known.of(RESULT, told, times, GIVEN)
    with WorkedOut.beside(book) as known:
        for times in (4.0, 1.0, 2.0):
            known.of(RESULT, told, times, GIVEN)
    assert asked == [1.0, 2.0, 3.0, 4.0, 2.0]


def test_where_nothing_can_be_written_all_is_worked_out(book):
    expected = learnt_priors(book, Kit()).priors
    where = place(book.file.path)
    where.unlink()
    full = OSError(errno.ENOSPC, "No space left on device")
    with mock.patch.object(Path, "write_bytes", side_effect=full):
        assert learnt_priors(book, Kit()).priors.key == expected.key
    assert not where.exists()
    assert len(list(where.parent.glob("*worked-out*"))) == 0


def test_what_changes_in_the_logbook_changes_what_is_learnt(book):
    """Each time the same as with nothing kept, and the reckoning is done for one outing only."""
    kit = Kit()

    def both() -> tuple[learn.Learnt, int]:
        solved = mock.patch.object(evidence, "solve", wraps=evidence.solve)
        weighed = mock.patch.object(evidence, "hand_likelihood", wraps=evidence.hand_likelihood)
        with solved as one, weighed as other:
            kept = learnt_priors(book, kit)
        place(book.file.path).rename(spare)
        anew = learnt_priors(book, kit)
        spare.replace(place(book.file.path))
        assert kept.priors.key == anew.priors.key
        assert repr(kept.terms) == repr(anew.terms)
        assert kept.left_out == anew.left_out
        assert kept.hand == anew.hand
        return kept, one.call_count + other.call_count

    spare = place(book.file.path).with_name("spare")
    before, first = both()
    same, none = both()
    assert first >= 3
    assert none == 0
    assert same.priors.key == before.priors.key
    book.delete_sighting(book.sighting(2, 1).id)
    fewer, some = both()
    assert 0 < some < first
    assert fewer.priors.key != before.priors.key
    book.undo()
    assert both()[0].priors.key == before.priors.key
    book.add_mend(kit.name, ("altitude_zero",), "shimmed", START.plus_seconds(86400.0 * 1.5))
    mended, none = both()
    assert none == 0
    assert mended.priors.key != before.priors.key
    kit = replace_centring(kit)
    assert both()[0].priors.key != mended.priors.key
    book.delete_outing(1)
    assert 1 not in both()[0].terms[0].outings


def replace_centring(kit: Kit) -> Kit:
    return kits.loads(f'name = "{kit.name}"\ncentring_arcmin = 12.0')


def test_a_sighting_knows_no_secrets():
    """All that a sighting holds is in the key: two that differ in anything are two."""
    s = Sighting("a star", 1.0, 2.0, 3.0, 4.0, START)
    for other in (replace(s, true_az_deg=1.1), replace(s, az_reading_deg=3.0 + 1e-12)):
        asked.clear()
        known = WorkedOut(None)
        known._kept.clear()
        for x in (s, other, s):
            known.of(kind(str), _named, x)
        assert len(asked) == 2


def _named(s: Sighting) -> str:
    asked.append(s.az_reading_deg)
    return s.star


def test_another_outing_solves_no_old_one_anew(book):
    """Whatever it does to the hand: old ones are solved with the hand that was theirs."""
    kit, rough = Kit(), np.random.default_rng(8)
    few = (mock.patch.object(teach, "NEWEST", 2), mock.patch.object(teach, "EVERY", 1))
    with few[0], few[1]:
        before = learnt_priors(book, kit)
        o = book.start_outing(None, kit, "", START.plus_seconds(86400.0 * 9))
        for az, alt in ((40.0, 35.0), (130.0, 65.0), (160.0, 55.0), (210.0, 40.0), (260.0, 25.0)):
            off = rough.normal(0, 0.4, 2)
            s = Sighting("a star", az, alt, az + 30 + off[0], alt - 0.8 + off[1], START)
            book.add_sighting(o.id, s, "typed")
        with mock.patch.object(evidence, "solve", wraps=evidence.solve) as solved:
            after = learnt_priors(book, kit)
    assert abs(math.log(after.hand.times / before.hand.times)) > 0.1
    old = {s.sighting.az_reading_deg for i in (1, 2) for s in book.sightings(i)}
    anew = {s.az_reading_deg for call in solved.call_args_list for s in call.args[0]}
    assert {s.sighting.az_reading_deg for s in book.sightings(o.id)} <= anew
    assert not anew & old


def test_what_was_made_while_an_entry_changed_is_not_kept(book):
    def made(name):
        book.set_aside(book.sighting(1, 1).id, "a cloud")
        return name

    def at():
        return (fingerprint(book, Kit().name),)

    with WorkedOut.beside(book) as known:
        assert known.under(kind(str), at, lambda: made("one")) == "one"
        book.put_back(book.sighting(1, 1).id)
        assert known.under(kind(str), at, lambda: "other") == "other"
        assert known.under(kind(str), at, lambda: "third") == "other"


def test_the_fingerprint_is_of_the_outings_asked_about(book):
    name = Kit().name
    second = START.plus_seconds(86400.0)
    first, all_of = fingerprint(book, name, second), fingerprint(book, name)
    book.delete_sighting(book.sighting(2, 1).id)
    assert fingerprint(book, name) != all_of
    assert fingerprint(book, name, second) == first
    book.undo()
    assert fingerprint(book, name) == all_of
    book.update_state(1, desk={"slips": [{"after": 1, "axes": ["azimuth"]}]})
    assert fingerprint(book, name, second) != first
    assert fingerprint(book, "another kit") not in (all_of, first)
