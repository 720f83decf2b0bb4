"""Whether a search in vain teaches, and whether the chances are true after it.

    python design/searched_in_vain.py [evenings [seed]]

The hidden mounts and controllers are those of design/beside_a_controller.py. After the number (and,
in a second run, the look back) an object is looked for where it is said to be; where it is not in
the field, in so many more fields along the likeliest way, or until it is seen (of ten times in the
field, nine). Of the searches in vain: the chance stated of four other objects, and how often they
were in the field, as it was before such a search taught and as it is now. And of the same object
when it is chosen once more: the push that aims where it did, and the one that the search taught.

Conclusion, 40 evenings a row: untaught 47 in 100 were stated after a search in vain and 35 were in
the field (with the look back 57 and 50); taught 42 and 48 (47 and 52). The same object once more:
21 in 100 in the field where it was aimed before, 44 where it is aimed now (31 and 40).
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace

import numpy as np
from beside_a_controller import FIELD_DEG, PAIRS, SORTS, Night, place, somewhere

from plumbstar.controller.landing import Lies
from plumbstar.controller.outlook import Outlook, outlook
from plumbstar.controller.searched import Searched
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.guide.sweep import sweep
from plumbstar.units import Array

#: Fields looked at before the search is given up.
FIELDS = (1, 4)
SEEN = 0.9


def objects(v: Array) -> ObjectPlaces:
    at = np.radians(place(v))
    return ObjectPlaces(at, at)


def off(night: Night, v: Array, push_deg: Array) -> Array:
    """How far beside the middle after the push, on the sky, degrees; the hand stops within the last
    figure."""
    miss = night.beyond(v) - push_deg - night.rng.uniform(-0.05, 0.05, 2)
    miss[0] = (miss[0] + 180.0) % 360.0 - 180.0
    miss[0] *= math.cos(math.radians(float(place(v)[1])))
    return np.asarray(miss)


def again(night: Night, v: Array, seen: Outlook, taught: Outlook) -> list[float]:
    """Of the same object once more: in the field where it was aimed before, where the taught push
    aims, and what that one states."""
    at = objects(v[None])
    out = []
    for o in (seen, taught):
        (lies,) = o.lies(at, FIELD_DEG)
        miss = off(night, v, np.degrees(lies.push).round(1))
        out.append(float(np.hypot(*miss) < FIELD_DEG / 2))
    return [*out, lies.hit_chance]


def searched(night: Night, seen: Outlook, v: Array, fields: int) -> Searched | None:
    """The fields looked at, or None if it was seen in one of them."""
    at = objects(v[None])
    (lies,) = seen.lies(at, FIELD_DEG)
    way = sweep(lies.cov, FIELD_DEG, until=0.999, most=fields).offsets_deg
    cos_alt = math.cos(float(at.seen[0, 1]))
    looked = []
    for right, up in way[:fields]:
        push = np.degrees(lies.push) + np.array([right / cos_alt, up])
        looked.append(push)
        miss = off(night, v, push.round(1))
        if float(np.hypot(*miss)) < FIELD_DEG / 2 and night.rng.random() < SEEN:
            return None
    after = len(night.left)
    return Searched(at, np.radians(np.array(looked)), math.radians(FIELD_DEG / 2), after)


def tried(night: Night, targets: Array, lies: list[Lies]) -> tuple[list[float], list[float]]:
    """Chances stated, and whether each was in the field."""
    hits = [
        float(np.hypot(*off(night, v, np.degrees(it.push).round(1))) < FIELD_DEG / 2)
        for v, it in zip(targets, lies, strict=True)
    ]
    return [it.hit_chance for it in lies], hits


def main(evenings: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    for back in (False, True):
        print(f"\nafter the number{' and the look back' if back else ''}; per cent in the field")
        print(
            f"{'':<22}{'fields':>7}{'in vain':>9}   as before: hit (stated)   taught: hit (stated)"
            "   the same object: where it was, taught (stated)"
        )
        sums, same = [], []
        for name, pair in PAIRS.items():
            for fields in FIELDS:
                rows, once_more = [], []
                for _ in range(evenings):
                    night = Night(np.array(pair), rng, SORTS["as weighed"])
                    if back:
                        night.look_back()
                    asked = night.asked(True)
                    seen = outlook(asked)
                    v = somewhere(rng, 1)[0]
                    vain = searched(night, seen, v, fields)
                    if vain is None:
                        continue
                    taught = outlook(replace(asked, searched=(vain,)))
                    once_more.append(again(night, v, seen, taught))
                    others = somewhere(rng, 4)
                    at = objects(others)
                    rows.append(
                        (
                            *tried(night, others, seen.lies(at, FIELD_DEG)),
                            *tried(
                                night,
                                others,
                                taught.lies(at, FIELD_DEG),
                            ),
                        )
                    )
                if not rows:
                    continue
                said, hit, said_now, hit_now = 100 * np.array(rows).mean(axis=(0, 2))
                sums += rows
                same += once_more
                old, new, stated = 100 * np.mean(once_more, axis=0)
                print(
                    f"{name:<22}{fields:>7}{len(rows):>9}{hit:>12.0f} ({said:3.0f}){'':<10}"
                    f"{hit_now:>12.0f} ({said_now:3.0f}){old:>16.0f}{new:>8.0f} ({stated:3.0f})",
                    flush=True,
                )
        said, hit, said_now, hit_now = 100 * np.array(sums).mean(axis=(0, 2))
        sigma = 100 * np.array(sums)[:, 3].mean(axis=1).std() / math.sqrt(len(sums))
        print(
            f"{'all':<29}{len(sums):>9}{hit:>12.1f} ({said:4.1f}){'':<8}"
            f"{hit_now:>12.1f} ({said_now:4.1f}) ± {sigma:.1f}"
        )
        old, new, stated = 100 * np.mean(same, axis=0)
        own = 100 * float(np.std(np.array(same)[:, 1])) / math.sqrt(len(same))
        print(
            f"the same object: where it was {old:.1f}, taught {new:.1f} ({stated:.1f}) ± {own:.1f}"
        )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 150,
        int(sys.argv[2]) if len(sys.argv) > 2 else 20270128,
    )
