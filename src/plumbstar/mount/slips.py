"""What may move behind the readings' back, and what told of it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

#: A circle whose zero was lost, or the base, which takes the lean with it.
Axis = Literal["azimuth", "altitude", "base"]
#: Where something moved: how many sightings came before, and what moved.
Cut = tuple[int, tuple[Axis, ...]]
CIRCLES: tuple[Axis, ...] = ("azimuth", "altitude")

#: ``restart``: counts began again at zero. ``jump``: a count changed at once, faster than a hand.
#: ``leap``: a count changed between two lines as no hand moves. ``unheard``: it changed while
#: nothing was heard. ``said``: by the observer. ``seen``: a star was centred where it could not
#: be. ``sightings``: they tell of it. ``imported``: with an outing from elsewhere.
SlipKind = Literal["restart", "jump", "leap", "unheard", "said", "seen", "sightings", "imported"]


class SlipCause(msgspec.Struct, frozen=True):
    """Why a slip is possible: the fact, without words.

    ``axes``: which circles showed it. ``amount_deg``: by how much the count changed, never below
    zero; 0 where nothing was measured.
    """

    kind: SlipKind
    axes: tuple[Axis, ...]
    amount_deg: float = 0.0


class CountSlip(msgspec.Struct, frozen=True):
    """A possible slip as the counts showed it. ``number`` is its identity within an outing: it
    grows with each, over restarts and other boards too. ``at_monotonic``: when it was seen."""

    number: int
    causes: tuple[SlipCause, ...]
    at_monotonic: float = 0.0


def _words(cause: SlipCause) -> str:
    circle = " and ".join(cause.axes)
    by = f"{cause.amount_deg:.1f}°"
    match cause.kind:
        case "restart" if len(cause.axes) > 1:
            return "both counts started again from zero, as after a loss of power"
        case "restart":
            return f"the {circle} count started again from zero"
        case "jump":
            return f"the {circle} count jumped by {by} at once"
        case "leap":
            return f"the {circle} count changed by {by} from one line to the next"
        case "unheard":
            return f"the {circle} count changed by {by} while nothing was heard"
        case "said":
            return "you said so"
        case "seen":
            return f"you saw a star {cause.amount_deg:.0f}° from where it could be"
        case "sightings":
            return "the sightings say so"
        case "imported":
            return "it came with the outing"


def slip_words(causes: Iterable[SlipCause]) -> str:
    """What made a slip possible, in plain words without advice; empty without a cause."""
    return " and ".join(_words(c) for c in causes)
