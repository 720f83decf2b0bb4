"""A term over the outings in a terminal: the latest one by one, those before gathered."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.history import Summary, TermOverOutings
from plumbstar.diagnose.history.record import Point
from plumbstar.logbook import Mend
from plumbstar.text.words import sigma_words

#: Width of the plot, characters.
WIDTH = 41
#: So many outings are listed one by one; of more only the latest, and so many rows of those before.
MOST, LATEST, GATHERED = 12, 4, 3


@dataclass(frozen=True)
class MountRow:
    """A line: some outings of one stretch, the middle of what they say, and from where to where two
    in three of them lie; of a single one its value and 1 sigma."""

    points: tuple[Point, ...]
    middle: float
    low: float
    high: float

    @property
    def head(self) -> str:
        """Which outings."""
        first, last = self.points[0], self.points[-1]
        day = first.utc.iso()[:10] if first.utc is not None else "no date"
        which = f"{first.outing_id}" if first is last else f"{first.outing_id}-{last.outing_id}"
        return f"    {day} {which:>8} |"

    @property
    def tail(self) -> str:
        """In numbers."""
        if not np.isfinite(self.middle):
            return "says nothing" if len(self.points) == 1 else "say nothing"
        half = (self.high - self.low) / 2
        of = f"  ({len(self.points)} outings)" if len(self.points) > 1 else ""
        return f"{self.middle:+.2f} ± {sigma_words(half)}{of}"


def rows_of(t: TermOverOutings, s: Summary, mends: Sequence[Mend], every: bool) -> list[MountRow]:
    """``every``: none are gathered. A row never reaches over a mend or a change that was found."""
    n = len(t.points)
    if every or n <= MOST:
        return [_row(t, t.points[i : i + 1]) for i in range(n)]
    place = {p.outing_id: i for i, p in enumerate(t.points)}
    edges = {0, n - LATEST}
    for c in s.changes:
        if c.name == t.name and c.found and c.outing_id in place:
            edges.add(place[c.outing_id])
    for m in mends:
        if t.name in m.terms:
            edges.add(sum(p.utc is None or p.utc < m.utc for p in t.points))
    cut = sorted(e for e in edges if e <= n - LATEST)
    while len(cut) <= GATHERED:  # the longest in two
        gaps = np.diff(cut)
        k = int(np.argmax(gaps))
        if gaps[k] < 2:
            break
        cut.insert(k + 1, cut[k] + int(gaps[k]) // 2)
    while len(cut) > 2 * GATHERED + 1:  # many mends: the oldest together
        del cut[1]
    gathered = [_row(t, t.points[a:b]) for a, b in itertools.pairwise(cut) if b > a]
    return gathered + [_row(t, t.points[i : i + 1]) for i in range(n - LATEST, n)]


def _row(t: TermOverOutings, points: tuple[Point, ...]) -> MountRow:
    told = [p for p in points if p.tells and p.sigma < 3 * t.kit_sigma]
    if not told:
        return MountRow(points, np.nan, np.nan, np.nan)
    if len(told) == 1:
        p = told[0]
        return MountRow(points, p.value, p.value - p.sigma, p.value + p.sigma)
    low, middle, high = np.quantile([p.value for p in told], [1 / 6, 0.5, 5 / 6])
    return MountRow(points, float(middle), float(low), float(high))


def plot(t: TermOverOutings, rows: Sequence[MountRow]) -> list[str]:
    """One line a row: a bar about the middle, the kit's value as a colon."""
    told = [r for r in rows if np.isfinite(r.middle)]
    if not told:
        return ["    no outing tells of it"]
    low = min([t.kit_value, *(r.low for r in told)])
    high = max([t.kit_value, *(r.high for r in told)])
    margin = max(0.05 * (high - low), 1e-6)
    low, high = low - margin, high + margin

    def column(x: float) -> int:
        return round((x - low) / (high - low) * (WIDTH - 1))

    lines = []
    for r in rows:
        cells = [" "] * WIDTH
        cells[column(t.kit_value)] = ":"
        if np.isfinite(r.middle):
            for i in range(column(r.low), column(r.high) + 1):
                cells[i] = "-"
            cells[column(r.middle)] = "o"
        lines.append(f"{r.head}{''.join(cells)}| {r.tail}")
    return lines
