"""Hide thousands of faults and see which of them `plumbstar why` finds: the confusion matrix.

    python design/confusion.py --balanced 130 --mixed 2500 --jobs 2 --write docs/why.md

Two runs. *Balanced*: equally many outings of each kind, for the matrix and the share found.
*Mixed*: kinds at their stated rates, for the reliability of the stated probabilities (and *shaky*,
the same with a hand coarser than the tool was told). Each outing: one of the two demo sites, 4 to
6 random bright stars 20 to 75 deg up, a minute or two apart; an ordinary mount drawn from the
example kit's priors; a fault with its size drawn from plumbstar.diagnose.explain.causes.

What may be asked of it was fixed before the first run: an outing is *decidable* when the expected
evidence favours the true cause over every rival by 4 to 1 or more, rates included. The expectation
uses the same mount, stars and fault with no centring noise at all; for coarse centring, where the
noise is the fault, the mean log odds over four outings with fresh noise. The noise that the tool
then has to cope with plays no part in it. Goal: true cause first in 85 % of decidable outings;
stated probabilities within 5 points of what happens.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import itertools
import json
import math
import re
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from plumbstar.diagnose.explain import can_tell_from
from plumbstar.diagnose.explain.causes import KINDS, draw_fault, draw_kind, several
from plumbstar.diagnose.explain.causes.both import AND
from plumbstar.diagnose.explain.causes.fault import Scene
from plumbstar.diagnose.explain.forms import Observations
from plumbstar.diagnose.explain.judge import judge
from plumbstar.diagnose.explain.stars import SkyAtSightings
from plumbstar.kit import example
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.simulate import faults
from plumbstar.simulate.mounts import draw_terms
from plumbstar.sky import places
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

SITES = (
    (Site(47.2, 11.6, 940.0, name="Thornback Ridge"), Instant.parse("2027-01-28T17:30:00Z")),
    (Site(-31.5, 21.0, 1000.0, name="Saltpan Flat"), Instant.parse("2027-07-09T17:30:00Z")),
)
#: Expected odds of the true cause against its best rival from which an outing counts as decidable.
DECIDABLE_ODDS = 4.0
SILENT = Noise(0.0, 0.0, 0.0)


@lru_cache(maxsize=1)
def _bright() -> list[catalogue.Star]:
    stars = catalogue.load()
    return [stars[int(i)] for i in stars.brighter_than(2.2)]


@lru_cache(maxsize=1)
def _neighbours() -> list[catalogue.Star]:
    stars = catalogue.load()
    return [stars[int(i)] for i in stars.brighter_than(4.0)]


def plan_outing(
    rng: np.random.Generator, sizes: tuple[int, ...] = (4, 5, 6)
) -> tuple[Site, list[catalogue.Star], list[Instant]]:
    """A site, random bright stars 20 to 75 deg up, and the moments of sighting."""
    site, dusk = SITES[int(rng.integers(2))]
    start = dusk.plus_seconds(float(rng.uniform(0, 3 * 3600)))
    n = int(rng.choice(sizes))
    _, alt = places.observed_many(_bright(), [start], site, grid=True)
    up = np.flatnonzero((np.degrees(alt[0]) > 20) & (np.degrees(alt[0]) < 75))
    chosen = [_bright()[int(i)] for i in rng.choice(up, n, replace=False)]
    steps = np.concatenate([[0.0], np.cumsum(rng.uniform(60, 120, n - 1))])
    return site, chosen, [start.plus_seconds(float(s)) for s in steps]


def weigh(
    sightings: list[Sighting], sky: SkyAtSightings | None, prior: Priors, noise: Noise
) -> dict[str, float]:
    """Probability by kind; that of every pair of causes stands under "several"."""
    p: dict[str, float] = {}
    for j in judge(Observations.of(sightings, prior, noise, sky, example())):
        kind = several.KIND if AND in j.kind else j.kind
        p[kind] = p.get(kind, 0.0) + j.probability
    return p


def log_odds(p: dict[str, float], kind: str) -> float:
    """Of a kind against its best rival."""
    rival = max(v for k, v in p.items() if k != kind)
    return math.log(max(p[kind], 1e-300)) - math.log(max(rival, 1e-300))


def one(job: tuple[int, int, str | None, float]) -> dict[str, Any]:
    """Hide, look, and compare. ``job``: seed, number, kind (None: at its rate), and how many times
    coarser the hand is than the tool believes."""
    seed, number, kind, coarser = job
    judge_it = kind is not None
    rng = np.random.default_rng([seed, number])
    kit = example()
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    site, plan, instants = plan_outing(rng)
    kind = draw_kind(rng) if kind is None else kind
    truth = draw_terms(prior, rng)
    fault = draw_fault(kind, rng, Scene(plan, instants, site, _neighbours()))
    believed = fault.recorded_site(site)
    hand = Noise(noise.centring * coarser, noise.reading_az, noise.reading_alt)
    seen = faults.simulate(truth, fault, plan, hand, rng, site, instants)
    sky = SkyAtSightings.of(seen, believed)
    p = weigh(seen, sky, prior, noise)
    odds: Any = -math.inf
    if not judge_it:
        pass
    elif kind == "coarse_centring":
        odds = np.mean(
            [
                log_odds(
                    weigh(
                        faults.simulate(truth, fault, plan, noise, rng, site, instants),
                        sky,
                        prior,
                        noise,
                    ),
                    kind,
                )
                for _ in range(4)
            ]
        )
    else:
        quiet = faults.simulate(truth, fault, plan, SILENT, rng, site, instants)
        odds = log_odds(weigh(quiet, sky, prior, noise), kind)
    first = max(p, key=lambda k: p[k])
    return {
        "kind": kind,
        "first": first,
        "p": p,
        "decidable": bool(odds >= math.log(DECIDABLE_ODDS)),
        "can_tell": can_tell_from(sorted(p.values(), reverse=True), len(plan)),
        "n": len(plan),
    }


def run(
    jobs: list[tuple[int, int, str | None, float]], workers: int, name: str, raw: Path | None
) -> list[dict[str, Any]]:
    """All jobs; each answer goes to the raw file at once, so that a long run can be watched."""
    out = []
    with ProcessPoolExecutor(workers) as pool:
        for row in pool.map(one, jobs, chunksize=4):
            out.append({"run": name, **row})
            if raw:
                with raw.open("a") as handle:
                    handle.write(json.dumps(out[-1]) + "\n")
    return out


def reliability(rows: list[dict[str, Any]]) -> list[tuple[float, float, int, float, float, float]]:
    """(low, high, count, mean stated, happened, standard error) for every stated probability.

    Every kind of every outing is one statement "p that it was this".
    """
    stated = np.array([v for r in rows for v in r["p"].values()])
    true = np.array([k == r["kind"] for r in rows for k in r["p"]])
    edges = [0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0001]
    out = []
    for low, high in itertools.pairwise(edges):
        hit = (stated >= low) & (stated < high)
        count = int(hit.sum())
        if count:
            q = float(stated[hit].mean())
            out.append(
                (low, min(high, 1.0), count, q, float(true[hit].mean()),
                 math.sqrt(max(q * (1 - q), 1e-6) / count))
            )  # fmt: skip
    return out


def report(
    balanced: list[dict[str, Any]],
    mixed: list[dict[str, Any]],
    shaky: list[dict[str, Any]],
    command: str,
) -> str:
    """Markdown: matrix, found share, reliability, cannot-tell."""
    kinds = list(KINDS)
    lines = [
        f"Made by `{command}`.",
        "",
        f"**Found.** {len(balanced)} outings, equally many of each cause. *Decidable*: expected "
        f"odds of the true cause against every rival at least {DECIDABLE_ODDS:g} to 1 (see the "
        "head of design/confusion.py).",
        "",
        "| true cause | outings | decidable | true cause first, of the decidable | of all |",
        "|---|---|---|---|---|",
    ]
    good = total = 0
    for k in kinds:
        rows = [r for r in balanced if r["kind"] == k]
        able = [r for r in rows if r["decidable"]]
        hit = sum(r["first"] == k for r in able)
        good, total = good + hit, total + len(able)
        every = sum(r["first"] == k for r in rows)
        share = f"{hit}/{len(able)} = {100 * hit / len(able):.0f} %" if able else "–"
        lines.append(
            f"| {k} | {len(rows)} | {100 * len(able) / max(1, len(rows)):.0f} % | {share} "
            f"| {100 * every / max(1, len(rows)):.0f} % |"
        )
    lines.append(
        f"| **all** | {len(balanced)} | {100 * total / max(1, len(balanced)):.0f} % "
        f"| **{good}/{total} = {100 * good / max(1, total):.1f} %** | |"
    )
    lines += [
        "",
        "**Confusion** among the decidable: rows true, columns named first, per cent of the row.",
        "",
        "| | " + " | ".join(kinds) + " |",
        "|---" * (len(kinds) + 1) + "|",
    ]
    for k in kinds:
        able = [r for r in balanced if r["kind"] == k and r["decidable"]]
        cells = []
        for c in kinds:
            share = 100 * sum(r["first"] == c for r in able) / max(1, len(able))
            cells.append(f"**{share:.0f}**" if c == k else f"{share:.0f}" if share >= 0.5 else "")
        lines.append(f"| {k} | " + " | ".join(cells if able else ["–"] * len(kinds)) + " |")
    lines += _calibration(
        mixed, "with causes at their stated rates; every probability stated for every cause."
    )
    lines += _calibration(
        shaky,
        "in which every star was centred 1.5 times less well than the tool was told: what a wrong "
        "`centring_arcmin` costs. (No goal was set for this one.)",
    )
    return "\n".join(lines)


def _calibration(rows: list[dict[str, Any]], what: str) -> list[str]:
    lines = [
        "",
        f"**Reliability.** {len(rows)} outings {what}",
        "",
        "| stated | statements | mean stated | happened | difference | 1 s.e. |",
        "|---|---|---|---|---|---|",
    ]
    worst = 0.0
    for low, high, count, q, f, se in reliability(rows):
        worst = max(worst, abs(f - q))
        lines.append(
            f"| {100 * low:.0f} to {100 * high:.0f} % | {count} | {100 * q:.1f} % "
            f"| {100 * f:.1f} % | {100 * (f - q):+.1f} | {100 * se:.1f} |"
        )
    told = [r for r in rows if r["can_tell"]]
    hit = sum(r["first"] == r["kind"] for r in told)
    untold = [r for r in rows if not r["can_tell"]]
    hit_untold = sum(r["first"] == r["kind"] for r in untold)
    lines += [
        "",
        f"Largest difference: {100 * worst:.1f} points. In this run the tool named a cause in "
        f"{len(told)} of {len(rows)} outings and was right in "
        f"{100 * hit / max(1, len(told)):.1f} % "
        f'of them; it said "cannot tell" in the other {len(untold)}, where its first guess was '
        f"right in {100 * hit_untold / max(1, len(untold)):.0f} %.",
    ]
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--balanced", type=int, default=130, help="outings of each kind")
    parser.add_argument("--mixed", type=int, default=2500, help="outings at the stated rates")
    parser.add_argument("--shaky", type=int, default=600, help="outings with a hand 1.5 x coarser")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=20270128)
    parser.add_argument("--write", type=Path, help="put the tables into this Markdown file")
    parser.add_argument("--raw", type=Path, help="every outing, as JSON lines")
    parser.add_argument("--from-raw", type=Path, help="tables from such a file; nothing is run")
    a = parser.parse_args()
    if a.from_raw:
        rows = [json.loads(line) for line in a.from_raw.read_text().splitlines()]
        balanced, mixed, shaky = (
            [r for r in rows if r["run"] == name] for name in ("balanced", "mixed", "shaky")
        )
        a.balanced, a.mixed = len(balanced) // len(KINDS), len(mixed)
        a.shaky = len(shaky)
    else:
        jobs: list[tuple[int, int, str | None, float]] = [
            (a.seed, 1000 * k + i, kind, 1.0)
            for i in range(a.balanced)
            for k, kind in enumerate(KINDS)
        ]
        balanced = run(jobs, a.jobs, "balanced", a.raw)
        mixed = run([(a.seed + 1, i, None, 1.0) for i in range(a.mixed)], a.jobs, "mixed", a.raw)
        shaky = run([(a.seed + 2, i, None, 1.5) for i in range(a.shaky)], a.jobs, "shaky", a.raw)
    command = f"python design/confusion.py --balanced {a.balanced} --mixed {a.mixed} "
    command += f"--shaky {a.shaky} --seed {a.seed}"
    text = report(balanced, mixed, shaky, command)
    print(text)
    if a.write:
        old = a.write.read_text()
        new = re.sub(
            r"(<!-- measured -->\n).*?(\n<!-- /measured -->)",
            lambda m: m[1] + text + m[2],
            old,
            flags=re.DOTALL,
        )
        a.write.write_text(new)


if __name__ == "__main__":
    main()
