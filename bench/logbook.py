"""What the check on each row costs when the logbook is opened: with the look at all rows, and the
same opening without it.

    python bench/logbook.py

Each pair of figures is of the same file in the same run, turn and turn about; the ratio is what to
read. In between the small logbook and the large one everything but the rows is the same.
"""

from __future__ import annotations

from unittest import mock

from growth import book_of
from timing import seconds

from plumbstar.logbook import Logbook, seals

ROUNDS = 15


def opened(path: str, n: int) -> None:
    with Logbook.open(path, create=False) as book:
        assert sum(o.sighting_count for o in book.outings()) == n


def row(n: int) -> None:
    with book_of(n) as filled:
        path = filled.path
        filled.file.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        checked, plain = [], []
        for _ in range(ROUNDS):
            checked.append(seconds(lambda: opened(path, n), 1))
            with mock.patch.object(seals, "bent", return_value=[]):
                plain.append(seconds(lambda: opened(path, n), 1))
    with_s, without_s = min(checked), min(plain)
    each = 1e6 * (with_s - without_s) / n
    print(
        f"{n:>7,} sightings: {1e3 * with_s:6.1f} ms with the look at its rows, "
        f"{1e3 * without_s:6.1f} ms without: {with_s / without_s:4.1f} times; {each:.1f} us a row"
    )


def main() -> None:
    print("processor time to open a logbook and list its outings, best of", ROUNDS)
    for n in (20, 10_000):
        row(n)


if __name__ == "__main__":
    main()
