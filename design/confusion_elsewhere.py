"""What `plumbstar why` calls a fault whose size it does not assume: the confusion matrix.

    python design/confusion_elsewhere.py [--evenings 60] [--seed 20290106] [--raw rows.jsonl]

The evenings are those of design/why_came_true.py (mounts, hands and faults of their own; sizes half
as large or three times as large as usual, spread by a factor of three either way), each with one
fault, or with none. What the answer tells as measured of the mount is told, whatever comes first.
Most halved faults and many others are too small to show: "nothing" is then the best answer, and no
outing was left out for that. docs/why.md has the result.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import why_came_true as elsewhere

KINDS = ("nothing", *elsewhere.FAULTS)
#: Columns: the kinds, two causes (the true one among them or not), and several.
PAIR_WITH, PAIR_WITHOUT, SEVERAL = "pair with it", "other pair", "several"


def called(row: dict[str, Any]) -> str:
    """What came first, beyond what is told as measured; that is called by the true fault if it is
    this."""
    (true,) = row["truth"]
    if row["first"] == SEVERAL:
        return SEVERAL
    first = elsewhere.so_far(row["first"], row)
    measured = {elsewhere.KIND_OF_TERM.get(t, "") for t in row["measured"]}
    if not first:
        return true if true in measured else "nothing"
    if len(first) > 1:
        return PAIR_WITH if true in first else PAIR_WITHOUT
    return first[0]


def report(rows: Sequence[dict[str, Any]]) -> str:
    heads = [*KINDS, PAIR_WITH, PAIR_WITHOUT, SEVERAL]
    lines = [
        "| true | evenings | first | sizes threefold | named | of these right |",
        "|---|---|---|---|---|---|",
    ]
    matrix = ["| | " + " | ".join(heads) + " |", "|---" * (len(heads) + 1) + "|"]
    named = right = 0
    for kind in KINDS:
        mine = [r for r in rows if r["truth"] == [kind]]
        large = [r for r in mine if r["size"] > 1]
        told = [r for r in mine if r["told"]]
        so = sum(called(r) in (kind, PAIR_WITH) for r in told)
        named, right = named + len(told), right + so
        hit, hit_large = (sum(called(r) == kind for r in part) for part in (mine, large))
        lines.append(
            f"| {kind} | {len(mine)} | {100 * hit / max(1, len(mine)):.0f} % "
            f"| {100 * hit_large / max(1, len(large)):.0f} % | {len(told)} "
            f"| {100 * so / max(1, len(told)):.0f} % |"
        )
        count = Counter(called(r) for r in mine)
        cells = [f"{100 * count[h] / max(1, len(mine)):.0f}" if count[h] else "" for h in heads]
        cells[KINDS.index(kind)] = f"**{cells[KINDS.index(kind)] or 0}**"
        matrix.append(f"| {kind} | " + " | ".join(cells) + " |")
    lines.append(f"| **all** | {len(rows)} | | | {named} | {100 * right / max(1, named):.0f} % |")
    return "\n".join([*lines, "", "Rows true, columns first, per cent of the row:", "", *matrix])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--evenings", type=int, default=60, help="of each kind")
    parser.add_argument("--seed", type=int, default=20290106)
    parser.add_argument("--raw", type=Path, help="every evening, as JSON lines")
    parser.add_argument("--from-raw", type=Path, help="tables from such a file; nothing is run")
    a = parser.parse_args()
    evenings = (
        elsewhere.one(a.seed, 10_000 * k + i, only=kind)
        for k, kind in enumerate(KINDS)
        for i in range(a.evenings)
    )
    print(report(elsewhere.rows_of(evenings, a.raw, a.from_raw)))


if __name__ == "__main__":
    main()
