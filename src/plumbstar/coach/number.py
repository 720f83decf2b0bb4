"""What the numbers that a message tells of a controller say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plumbstar import controller
from plumbstar.coach.moments import Circumstances, moment_of
from plumbstar.coach.told import NumberTold
from plumbstar.controller.named_pair import pair_seen, wrong_star_candidates
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors


@dataclass(frozen=True)
class JudgedNumber:
    """A number with its two stars, and what it says."""

    told: NumberTold
    shown: controller.ShownNumber
    judgement: controller.Judgement


def judged(
    numbers: Sequence[NumberTold], at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> tuple[JudgedNumber, ...]:
    """Each number of a message; empty where the message does not tell enough of all of them, or
    what cannot be."""
    out = []
    for k, n in enumerate(numbers, 1):
        one = _judged(n, f"number {k}", at, priors, noise, kit)
        if one is None:
            return ()
        out.append(one)
    return tuple(out)


def _judged(
    n: NumberTold, label: str, at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> JudgedNumber | None:
    moments = [m for s in n.stars if (m := moment_of(s, at)) is not None]
    if at.site is None or len(moments) < 2 or any(s.perhaps for s in n.stars):
        return None
    a, b = ((s.thing, t) for s, (t, _) in zip(n.stars[:2], moments[:2], strict=True))
    try:
        pair = pair_seen(a, b, at.site)
        controller.check(pair)
        shown = controller.ShownNumber(n.deg, pair, label)
        said = controller.judge(
            shown,
            priors,
            noise,
            candidates=wrong_star_candidates(a, b, at.site),
            adding=kit.stop.adding,
            field_deg=kit.true_field_deg(kit.finder_eyepiece()),
        )
    except UserError:  # a star below the horizon, the same star twice: the reply asks
        return None
    return JudgedNumber(n, shown, said)


def together(
    found: Sequence[JudgedNumber], priors: Priors, noise: Noise, kit: Kit
) -> controller.Combined | None:
    """What several say with one another; None of one."""
    if len(found) < 2:
        return None
    return controller.combine(
        [f.shown for f in found],
        priors,
        noise,
        adding=kit.stop.adding,
        field_deg=kit.true_field_deg(kit.finder_eyepiece()),
    )


def alike_deg(noise: Noise) -> float:
    """Within how much, two sigma, one pair's number comes again when nothing has changed, degrees:
    four times a star is centred by eye."""
    return 4.0 * math.degrees(noise.centring)
