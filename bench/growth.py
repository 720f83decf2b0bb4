"""What bends when there is more of it: each thing doubled, and its cost beside the smallest one's.

    python bench/growth.py

For each: how many, the processor time, and the time of one unit against that of the first row.
A ratio near 1 is proportional growth; one that climbs is where it bends.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np
from timing import seconds

from plumbstar import kit as kits
from plumbstar.choose.score import score_sets
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.simulate import scenario
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve
from plumbstar.targets import order
from plumbstar.targets.model import Conditions
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import Survey, survey

START = Instant.parse("2027-01-28T17:05:00Z")


def table(what: str, rows: Iterator[tuple[int, float]]) -> None:
    print(f"\n{what}")
    first = None
    for n, cost in rows:
        first = first or cost / n
        print(
            f"  {n:>9,}  {cost:9.3f} s  {cost / n / first:6.2f} times the first row's cost for one"
        )


def hand(n: int) -> list[Sighting]:
    rng = np.random.default_rng(1)
    prior, noise = Priors.from_kit(Kit()), Noise()
    mount = HiddenMount(draw_terms(prior, rng), noise, rng)
    return mount.sight_all(zip(rng.uniform(0, 360, n), rng.uniform(15, 80, n), strict=True))


def sightings() -> Iterator[tuple[int, float]]:
    prior, noise = Priors.from_kit(Kit()), Noise()
    for n in (8, 16, 32, 64, 128, 256, 512, 1024):
        rows = hand(n)
        yield n, seconds(partial(solve, rows, prior, noise))


def pairs() -> Iterator[tuple[int, float]]:
    rng = np.random.default_rng(2)
    prior, noise = Priors.from_kit(Kit()), Noise()
    t_az, t_alt = rng.uniform(0, 6.28, 200), rng.uniform(0.4, 1.4, 200)
    for n in (16, 32, 64, 128):
        az, alt = rng.uniform(0, 6.28, n), rng.uniform(0.3, 1.2, n)
        work = lambda az=az, alt=alt: score_sets(az, alt, 2, prior, noise, t_az, t_alt, 0.01)  # noqa: E731
        yield n * (n - 1) // 2, seconds(work)


def objects() -> Iterator[tuple[int, float]]:
    rng = np.random.default_rng(3)
    for n in (4_000, 8_000, 16_000, 32_000, 64_000):
        ra = rng.uniform(0, 360, n)
        dec = np.degrees(np.arcsin(rng.uniform(-1, 1, n)))
        mag, size = rng.uniform(9, 15, n), rng.uniform(0.5, 10, n)
        made = DeepSkyList.of(
            DeepSky(f"T{i}", "", f"T{i}", "galaxy", "", ra[i], dec[i], mag[i], size[i])
            for i in range(n)
        )
        yield n, seconds(partial(night_of, made, 12.0))


def night_of(made: DeepSkyList, hours: float) -> Survey:
    s = scenario.thornback_ridge()
    end = START.plus_seconds(3600.0 * hours)
    return survey(made, doubles.load(), START, end, s.site, s.kit, Conditions(), s.skyline)


def hours() -> Iterator[tuple[int, float]]:
    night = night_of(deepsky.load(), 12.5)
    found = prospects(night)
    for n in (1, 2, 4, 8, 12):
        until = START.plus_seconds(3600.0 * n)
        yield n, seconds(partial(order.plan, night, found, START, until), 2)


@contextmanager
def book_of(n: int) -> Iterator[Logbook]:
    """A logbook with so many sightings, twenty to an outing."""
    kit, text = kits.example(), kits.example_text()
    site = scenario.thornback_ridge().site
    rows = hand(20)
    with tempfile.TemporaryDirectory() as folder, Logbook.open(Path(folder) / "b.sqlite3") as book:
        book.file.db.execute("PRAGMA synchronous = OFF")  # filling only; measured below as it is
        for k in range(n // 20):
            when = START.plus_seconds(-86400.0 * (n // 20 - k))
            outing = book.start_outing(site, kit, text, when)
            for i, s in enumerate(rows):
                at = when.plus_seconds(60.0 * i)
                book.add_sighting(
                    outing.id,
                    Sighting(f"Star {i}", s.true_az_deg, s.true_alt_deg, s.az_reading_deg,
                             s.alt_reading_deg, at, "32 mm"),
                    "typed",
                )  # fmt: skip
        book.file.db.execute("PRAGMA synchronous = FULL")
        yield book


def log_add() -> Iterator[tuple[int, float]]:
    for n in LOG:
        with book_of(n) as book:
            (outing, *_) = reversed(book.outings())
            cost = seconds(partial(hundred_more, book, outing.id))
            listing = seconds(book.outings)
            size = Path(book.path).stat().st_size / 1e6
            print(
                f"  {n:>9,} sightings: one more {1e3 * cost / 100:.2f} ms; "
                f"list of outings {1e3 * listing:.1f} ms; file {size:.0f} MB"
            )
            yield n, listing


def hundred_more(book: Logbook, outing: int) -> None:
    for _ in range(100):
        book.add_sighting(outing, Sighting("Vega", 10.0, 20.0, 10.0, 20.0, START, "32 mm"), "typed")


LOG = (5_000, 10_000, 20_000, 40_000, 100_000)


def learning() -> Iterator[tuple[int, float]]:
    kit = kits.example()
    for n in (500, 1_000, 2_000, 4_000):
        with book_of(n) as book:
            yield n, seconds(partial(learnt_priors, book, kit), 1)


def main() -> None:
    table("sightings in one fix", sightings())
    table("pairs of stars scored (200 targets)", pairs())
    table("objects judged for a night of 12 hours", objects())
    table("hours put in order", hours())
    table("sightings in the logbook: its list of outings", log_add())
    table("sightings learnt from, at the start of an outing", learning())


if __name__ == "__main__":
    main()
