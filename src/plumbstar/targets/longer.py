"""What it costs to stay where one is: the evening's order begun so much later.

The order stands as it was told; it only loses what there is no time for, as it would for one who is
late (:func:`plumbstar.targets.order.plan`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from plumbstar.sky.times import Instant
from plumbstar.targets.model import Prospect, Route, Visit
from plumbstar.targets.order import POOL, Effort, plan
from plumbstar.targets.tonight import Survey
from plumbstar.targets.wishes import name_of

#: No other order is looked for.
_AS_IT_STANDS = Effort(POOL, 1, 0)


@dataclass(frozen=True, slots=True)
class Longer:
    """``lost``: visits that find no time after so many ``minutes`` more; ``come``: those that fill
    the gap that these leave; ``left``: how many of the order are still made."""

    minutes: float
    lost: tuple[Visit, ...]
    come: tuple[Visit, ...]
    left: int


def longer(
    night: Survey,
    wanted: Sequence[Prospect],
    route: Route,
    start: Instant,
    end: Instant,
    minutes: float,
    done: Collection[str] = (),
) -> Longer:
    """The order that was told, planned from ``start``, and the same begun so many minutes later.

    ``wanted``, ``done`` and the hours as for :func:`plumbstar.targets.order.plan`.
    """

    now, late = route.visits, start.plus_seconds(60.0 * minutes)
    then: tuple[Visit, ...] = ()
    if end.minus(late) > 0.0:
        then = plan(
            night, wanted, late, end, done=done, previous=route, effort=_AS_IT_STANDS
        ).visits
    here, there = ({name_of(v.prospect.target) for v in visits} for visits in (now, then))
    return Longer(
        minutes,
        tuple(v for v in now if name_of(v.prospect.target) not in there),
        tuple(v for v in then if name_of(v.prospect.target) not in here),
        len(here & there),
    )
