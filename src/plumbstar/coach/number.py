"""What the number that a message tells of a controller says."""

from __future__ import annotations

from plumbstar import controller
from plumbstar.coach.follows import Circumstances, moment_of
from plumbstar.coach.message import MessageTold
from plumbstar.controller.named_pair import pair_seen, wrong_star_candidates
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors


def judged(
    message: MessageTold, at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> tuple[controller.ShownNumber, controller.Judgement] | None:
    """The number with its two stars, and what it says; None where the message does not tell enough,
    or what cannot be."""
    moments = [m for s in message.stars if (m := moment_of(s, at)) is not None]
    if message.number_deg is None or at.site is None or len(moments) < 2:
        return None
    a, b = ((s.thing, t) for s, (t, _) in zip(message.stars[:2], moments[:2], strict=True))
    try:
        pair = pair_seen(a, b, at.site)
        controller.check(pair)
        shown = controller.ShownNumber(message.number_deg, pair, "")
        return shown, controller.judge(
            shown,
            priors,
            noise,
            candidates=wrong_star_candidates(a, b, at.site),
            adding=kit.stop.adding,
            field_deg=kit.true_field_deg(kit.finder_eyepiece()),
        )
    except UserError:  # a star below the horizon, the same star twice: the reply asks
        return None
