"""Random evenings with several faults at once, in virtual time: python tools/evenings.py

    python tools/evenings.py 1000             a thousand evenings, in two processes
    python tools/evenings.py --seed 417       that one alone, told line by line
    python tools/evenings.py 300 --only "slow board" --only "azimuth slips"
    python tools/evenings.py 1000 --keep FILE each is written there when done; begun again, the
                                              run goes on from there

Bytes of a board and presses go in through the program's own parser, counter and evening; the
hidden mount, sky, hand and faults are worked out apart from it (tools/nights/). Every push is
judged at its end: *wrong* is a target outside the field though the phone says "in the field" and
states over 80 %; *unwarned* if nothing on the screen says that something may be amiss. Of honest
chances some pushes are outside, too: so many as the stated chances themselves expect. *Far* is
over two fields off. Of each that was wrong and unwarned it is told why (tools/nights/blame.py), and
those by a fault that three stars or more can show are counted: the goal is none.
"""

import argparse
import asyncio
import collections
import json
import multiprocessing
import sys
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tools")]
from nights import faults, night  # noqa: E402
from nights.claim import Claim  # noqa: E402
from nights.sun import SunClaim  # noqa: E402

Judged = tuple[int, list[str] | None, Any, list[SunClaim]]


def judged(job: tuple[int, tuple[str, ...] | None]) -> Judged:
    seed, only = job
    try:
        n = asyncio.run(night.one(seed, only))
    except Exception as e:
        return seed, None, f"{type(e).__name__}: {e}", []
    return seed, [f.kind for f in n.plan.faults], n.claims, n.suns


def kept_in(path: Path | None) -> list[Judged]:
    """The evenings written down by an earlier run; a line cut short is left out."""
    out: list[Judged] = []
    for line in path.read_text().splitlines() if path and path.exists() else ():
        try:
            seed, kinds, claims, suns = json.loads(line)
        except ValueError:
            continue
        for c in claims:
            c["warned"], c["faults"] = tuple(c["warned"]), tuple(map(tuple, c["faults"]))
        out.append((seed, kinds, [Claim(**c) for c in claims], [SunClaim(**s) for s in suns]))
    return out


def written(one: Judged) -> str:
    seed, kinds, claims, suns = one
    rows = [[asdict(c) for c in claims], [asdict(s) for s in suns]]
    return json.dumps([seed, kinds, *rows], default=lambda x: x.item()) + "\n"


def table(rows: Any, title: str) -> None:
    print(
        f"\n{title:44} {'pushes':>7} {'stated>80%':>10} {'outside':>8} {'expected':>8} {'far':>4}"
    )
    for name, claims in rows:
        sure = [c for c in claims if c.in_field and c.stated > 0.8 and not c.warned]
        print(
            f"{name:44} {len(claims):7} {len(sure):10} {sum(c.outside for c in sure):8} "
            f"{sum(1 - c.stated for c in sure):8.1f} {sum(c.far for c in sure):4}"
        )


def report(done: list[Judged]) -> None:
    every = [(seed, c) for seed, _, claims, _ in done for c in claims]
    print(f"{len(done)} evenings, {len(every)} pushes; below: those unwarned and stated over 80 %")
    by = collections.defaultdict(list)
    for _, c in every:
        by[c.seen_by].append(c)
    table([("all", [c for _, c in every]), *sorted(by.items())], "by what could show the faults")
    kinds = collections.defaultdict(list)
    for _, c in every:
        for kind in {k for k, _ in c.faults}:
            kinds[kind].append(c)
    order = [(k, kinds[k]) for k in faults.ALL if kinds[k]]
    table(order, "by fault (alone or with others)")
    alone = collections.defaultdict(list)
    for _, c in every:
        if len(c.faults) == 1:
            alone[c.faults[0]].append(c)
    table([(f"{k}, {w}", v) for (k, w), v in sorted(alone.items())], "one fault only")
    bad = sorted(((s, c) for s, c in every if c.silent), key=lambda x: -x[1].off_deg)
    why = collections.Counter(c.blame for _, c in bad if c.seen_by != "denied")
    print("\nwhy those were outside, but for what somebody denied (tools/nights/blame.py):")
    print(f"  {why['chance']:4} would have been with nothing wrong, too: the stated chance's own")
    print(
        f"  {why['since']:4} by what moved after the last star, which nothing has put to the test"
    )
    print(f"  {why['few']:4} by a fault, with under three right stars")
    print(f"  {why['faint']:4} by a fault that the stars sighted cannot show")
    print(f"  {why['shown']:4} by a fault that three stars or more show: the goal is none")
    print("\nwrong, stated over 80 %, unwarned (farthest first):")
    for seed, c in bad:
        what = ", ".join(f"{k} ({w})" for k, w in c.faults) or "no fault"
        print(
            f"  --seed {seed:<5} {c.target:9} at {c.at_s:5.0f} s: off {c.off_deg:6.2f} deg, stated "
            f"{c.stated:4.0%}, {c.stars} stars; {c.blame} ({c.shown_sigmas:.1f}); {what}"
        )


def report_suns(done: list[Judged]) -> None:
    every = [(seed, c) for seed, _, _, suns in done for c in suns]
    print("\npushes asked for with the Sun up            asked  shown  with the Sun in danger")
    for told, name in (
        (True, "a clock known here says day"),
        (False, "every clock known says night"),
    ):
        these = [c for _, c in every if c.told == told]
        print(
            f"{name:44} {len(these):5} {sum(c.guided for c in these):6} "
            f"{sum(c.wrong for c in these):6}"
        )
    for seed, c in every:
        if c.wrong and c.told:
            print(f"  --seed {seed:<5} {c}")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("evenings", type=int, nargs="?", default=100)
    ask.add_argument("--first", type=int, default=0, help="the first seed")
    ask.add_argument("--seed", type=int, help="this evening alone, told")
    ask.add_argument("--only", action="append", choices=faults.ALL, help="these faults, no others")
    ask.add_argument("--processes", type=int, default=2)
    ask.add_argument("--keep", type=Path, metavar="FILE", help="write each evening there")
    said = ask.parse_args()
    only = tuple(said.only) if said.only else None
    if said.seed is not None:
        n = asyncio.run(night.one(said.seed, only))
        print(", ".join(f"{f.kind} at step {f.step}" for f in n.plan.faults) or "no fault")
        print("\n".join(n.events))
        return
    began = time.time()
    seeds = range(said.first, said.first + said.evenings)
    answers = [a for a in kept_in(said.keep) if a[0] in seeds]
    jobs = [(s, only) for s in seeds if s not in {a[0] for a in answers}]
    with multiprocessing.get_context("fork").Pool(said.processes) as pool:
        for one in pool.imap_unordered(judged, jobs):
            answers.append(one)
            if said.keep and one[1] is not None:
                with said.keep.open("a") as f:
                    f.write(written(one))
    for seed, kinds, why, _ in answers:
        if kinds is None:
            print(f"--seed {seed} ended in an error: {why}")
    whole = [a for a in answers if a[1] is not None]
    report(whole)
    report_suns(whole)
    print(f"{time.time() - began:.0f} s")


if __name__ == "__main__":
    main()
