"""What `plumbstar why` says when names are wrong, and whether it says what the fix says.

    python design/misnamed_why.py [evenings [stars]]

The evenings are those of design/misnamed.py, whose mounts, hands and mistakes share no arithmetic
with the program; seed 12.

"Named": evenings in which a cause was named, and of these rightly: a wrong name as the star that it
was, two as both; of an honest evening, that only the mount is off. "Two": evenings in which two
wrong names had over 50 in 100, the mean chance stated then, and how many had two, both rightly
entered. "Fix": evenings in which the fix says of two sightings that they were of another star; in
how many of these the first cause says the same.
"Time": processor time of an explanation, milliseconds.

Conclusion: see docs/why.md.
"""

from __future__ import annotations

import sys
import time

import numpy as np
from misnamed import KINDS, named

from plumbstar.diagnose.explain import Explanation, explain
from plumbstar.diagnose.explain.causes.both import Both
from plumbstar.diagnose.explain.causes.wrong_star import AnotherStar
from plumbstar.diagnose.explain.forms import Form
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.nameless.contradicted import reconsidered
from plumbstar.solve.fix import solve

TWO = "wrong_star+wrong_star"
TRUE_KINDS = {
    "honest": {"nothing", "stop_off", "cone", "squareness", "base_leaning"},
    "one astray": {"careless_sighting"},
    "a slip": {"slip"},
}


def others(form: Form) -> dict[int, str]:
    """By a form's account: which sightings were of which other star."""
    if isinstance(form, Both):
        return others(form.first) | others(form.second)
    return {form.sighting: form.star} if isinstance(form, AnotherStar) else {}


def rightly(found: Explanation, kind: str, truth: dict[int, str]) -> bool:
    first = found.causes[0]
    if truth:
        return others(first.judged.form) == truth
    return bool(TRUE_KINDS[kind] & set(first.kind.split("+")))


def main() -> None:
    evenings = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    stars = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    kit = Kit()
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    print(f"{evenings} evenings a kind, {stars} stars")
    print(f"{'kind':<12}{'named':>7}{'right':>7}  two{'said':>6}{'mean':>6}{'so':>6}"
          f"  fix{'two':>5}{'same':>6}{'time':>8}")  # fmt: skip
    for kind in KINDS:
        rng = np.random.default_rng(12)
        right: list[bool] = []
        two: list[tuple[float, bool]] = []
        same: list[bool] = []
        count, took = 0, 0.0
        while count < evenings:
            made = named(rng, kind, stars)
            if made is None:
                continue
            count += 1
            rows, site, truth, _, _ = made
            begun = time.process_time()
            found = explain(rows, prior, noise, site=site, kit=kit)
            took += time.process_time() - begun
            if found.can_tell:
                right.append(rightly(found, kind, truth))
            cause = next((c for c in found.causes if c.kind == TWO), None)
            if cause is not None and cause.at_all > 0.5:
                two.append((cause.at_all, others(cause.judged.form) == truth))
            it_was = reconsidered(solve(rows, prior, noise), site).it_was
            if len(it_was) > 1:
                said = {x.index: x.row.star for x in it_was}
                same.append(found.can_tell and others(found.causes[0].judged.form) == said)
        mean, so = np.mean(two, axis=0) if two else (np.nan, np.nan)
        share = np.mean(right) if right else np.nan
        print(f"{kind:<12}{100 * len(right) / count:>7.0f}{100 * share:>7.0f}  two{len(two):>6}"
              f"{100 * mean:>6.0f}{100 * so:>6.0f}  fix{len(same):>5}{sum(same):>6}"
              f"{1000 * took / count:>8.0f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
