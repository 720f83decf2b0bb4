"""What the card has for whoever stands beside a closed controller: pairs of its own list, and how
far each object lies beyond its zero, so that the evening works with no computer in the field."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.card.model import Card, CardStop
from plumbstar.choose.candidates import Candidate
from plumbstar.choose.closed import listed, ranked_pairs
from plumbstar.controller.evening import places
from plumbstar.controller.nearest import knows
from plumbstar.controller.outlook import Asked, outlook
from plumbstar.controller.ranking import over_the_sky
from plumbstar.controller.showing import WAYS, ObjectPlaces, Taught
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words

#: The ways of sharing that a look back tells apart at a glance, by what is then left to push.
LOOK_BACK = (("second", "nothing left"), ("shared", "half the number"), ("first", "all of it"))
#: How long it takes from star to star; common practice, no source.
BETWEEN_STARS_S = 30.0
#: What stands in place of a push from the zero of an object that it cannot be sent to.
UNKNOWN = "not in its lists"
#: Weight of the ways that the look back has ruled out.
_RULED_OUT = 1e-6


def is_closed(kit: Kit) -> bool:
    """Whether the kit has a closed controller."""
    return kit.connection.kind == "controller"


def ranked(
    usable: Sequence[Candidate], kit: Kit, priors: Priors, field_deg: float
) -> list[tuple[tuple[Candidate, Candidate], float]]:
    """Pairs of its own list in their order, the best first, with the mean hit chance pushed on.

    Raises :class:`UserError` where fewer than two of its stars are up.
    """
    own = listed(usable, kit.controller)
    if len(own) < 2:
        raise UserError("Fewer than two stars of the controller's list are up", "", "Wait")
    noise = Noise.from_kit(kit)
    found = ranked_pairs(own, over_the_sky(), priors, noise, field_deg, kit.controller)
    return [((own[p.first], own[p.second]), p.pushed_on) for p in found]


def corrections(
    pair: tuple[Target, Target],
    at: Instant,
    targets: Sequence[Target],
    stops: Sequence[CardStop],
    site: Site,
    kit: Kit,
) -> tuple[tuple[str, ...], ...]:
    """For each object, and for each of :data:`LOOK_BACK`, how far to push on from the zero for +1
    degree of the number; for -1 it is the other way, and so in proportion."""
    if not targets:
        return ()
    both, own = list(pair), [at, at.plus_seconds(BETWEEN_STARS_S)]
    taught = Taught(
        places(both, own, site, False),
        places(both, own, site, True),
        places(both, [own[1], own[1]], site, True),
    )
    starts = [s.start for s in stops]
    objects = ObjectPlaces(
        places(list(targets), starts, site, False), places(list(targets), starts, site, True)
    )
    cells = [_slopes(taught, objects, way, kit) for way, _ in LOOK_BACK]
    known = [knows(t, kit.controller) for t in targets]
    return tuple(
        tuple((words.push_on(*of[k], ", ") or "nothing") if known[k] else UNKNOWN for of in cells)
        for k in range(len(targets))
    )


def _slopes(taught: Taught, objects: ObjectPlaces, way: str, kit: Kit) -> list[tuple[float, float]]:
    """Degrees right and up for one degree of the number: half of what lies between +1 and -1."""
    weights = {w: 1.0 if w == way else _RULED_OUT for w in WAYS}
    none = np.zeros((0, 2))
    pushes = [
        np.array(
            [
                x.push
                for x in outlook(
                    Asked(
                        taught, number, ObjectPlaces(none, none), none, Priors.from_kit(kit),
                        Noise.from_kit(kit).centring, math.radians(kit.controller.step_deg),
                        kit.controller.has_clock is not False, kit.controller.sign_factor or 1,
                        weights,
                    )
                ).lies(objects, 1.0)
            ]
        )
        for number in (math.radians(1.0), math.radians(-1.0))
    ]  # fmt: skip
    slope = np.degrees(pushes[0] - pushes[1]) / 2.0
    return [(float(a), float(b)) for a, b in slope]


def lines_beside(card: Card) -> tuple[str, ...]:
    """What is written down, in its order; nothing for another kit."""
    first = next((h for h in card.hours if h.stars), None)
    if not card.beside or first is None:
        return ()
    a, b = (s.name for s in first.stars)
    return ("On the stop", a, b, "Its number", f"Look back: {b}")


def on_note(card: Card) -> str:
    """How the pushes on are to be read."""
    first = next((h for h in card.hours if h.stars), None)
    pair = " and ".join(s.name for s in first.stars) if first is not None else "the two stars"
    unknown = (
        " What is not in its lists: Find on the phone names the nearest that is."
        if any(UNKNOWN in s.on for s in card.stops)
        else ""
    )
    return (
        f"Push on from the controller’s zero, after {pair}, for a number of +1.0°. For −1.0° the "
        "other way, for another number in proportion. Which of the three: by what it still wants "
        f"at the look back, to the second star with the tube not moved.{unknown}"
    )
