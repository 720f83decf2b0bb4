"""What the card has for whoever stands beside a closed controller: pairs of its own list, and how
far each object lies beyond its zero, so that the evening works with no computer in the field."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.card.model import Card, CardStop
from plumbstar.choose.candidates import Candidate
from plumbstar.choose.closed import listed, ranked_pairs
from plumbstar.controller.believed import Believed
from plumbstar.controller.evening import places
from plumbstar.controller.nearest import nearest_known
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
#: What stands in place of a push where nothing that it has in its lists is up.
UNKNOWN = "not in its lists"
#: Weight of the ways that the look back has ruled out.
_RULED_OUT = 1e-6
#: Nothing centred yet: its places, and what was left.
_NOTHING = ObjectPlaces(np.zeros((0, 2)), np.zeros((0, 2))), np.zeros((0, 2))


@dataclass(frozen=True)
class CardPush:
    """For one object: the push on for each of :data:`LOOK_BACK`; ``chosen``: what to choose on the
    controller where it does not have it, and how far to push on besides."""

    on: tuple[str, ...]
    chosen: str = ""


def is_closed(kit: Kit) -> bool:
    """Whether the kit has a closed controller."""
    return kit.connection.kind == "controller"


def ranked(
    usable: Sequence[Candidate],
    kit: Kit,
    priors: Priors,
    noise: Noise,
    field_deg: float,
    nights: Believed | None,
) -> list[tuple[tuple[Candidate, Candidate], float]]:
    """Pairs of its own list in their order, the best first, with the mean hit chance pushed on.
    ``nights``: of what these taught, the hand and the ways of sharing count here. What they taught
    of the mount does not: the card's table goes by the number alone.

    Raises :class:`UserError` where fewer than two of its stars are up.
    """
    own = listed(usable, kit.controller)
    if len(own) < 2:
        raise UserError("Fewer than two stars of the controller's list are up", "", "Wait")
    known = replace(nights or Believed(priors), priors=priors)
    found = ranked_pairs(own, over_the_sky(), known, noise, field_deg, kit.controller)
    return [((own[p.first], own[p.second]), p.pushed_on) for p in found]


def corrections(
    pair: tuple[Target, Target],
    at: Instant,
    targets: Sequence[Target],
    stops: Sequence[CardStop],
    site: Site,
    kit: Kit,
    noise: Noise,
    nights: Believed | None,
) -> tuple[CardPush, ...]:
    """For each object, and for each of :data:`LOOK_BACK`, how far to push on from the zero for +1
    degree of the number; for -1 it is the other way, and so in proportion. ``nights``: what these
    taught of the hand counts."""
    if not targets:
        return ()
    both, own = list(pair), [at, at.plus_seconds(BETWEEN_STARS_S)]
    taught = Taught(
        places(both, own, site, False),
        places(both, own, site, True),
        places(both, [own[1], own[1]], site, True),
    )
    starts = [s.start for s in stops]
    found = [_chosen(t, at_start, site, kit) for t, at_start in zip(targets, starts, strict=True)]
    chosen = [c or t for c, t in zip(found, targets, strict=True)]
    objects = ObjectPlaces(
        places(list(targets), starts, site, False), places(chosen, starts, site, True)
    )
    asked = Asked(
        taught, None, *_NOTHING, Priors.from_kit(kit), noise.centring,
        math.radians(kit.controller.step_deg), kit.controller.has_clock is not False,
        kit.controller.sign_factor or 1,
    )  # fmt: skip
    if nights is not None:
        asked = replace(asked, hands=nights.hands)
    cells = [_slopes(asked, objects, way) for way, _ in LOOK_BACK]
    told = []
    for k, (target, c) in enumerate(zip(targets, found, strict=True)):
        if c is None:
            told.append(CardPush((UNKNOWN,) * len(LOOK_BACK)))
            continue
        on = tuple(words.push_on(*slopes[k], ", ") or "nothing" for slopes, _ in cells)
        besides = words.push_on(*cells[0][1][k])
        instead = f"Choose {c.label} on it" + (f" and add {besides}" if besides else "")
        told.append(CardPush(on, "" if c.key == target.key else instead))
    return tuple(told)


def _chosen(target: Target, at: Instant, site: Site, kit: Kit) -> Target | None:
    """What is chosen on the controller for it; None where it has nothing."""
    try:
        return nearest_known(target, kit.controller, site, at)
    except UserError:
        return None


Degrees = list[tuple[float, float]]


def _slopes(asked: Asked, objects: ObjectPlaces, way: str) -> tuple[Degrees, Degrees]:
    """Degrees right and up for one degree of the number: half of what lies between +1 and -1; and
    what is to be pushed on with a number of nought, which lies between the two."""
    weights = {w: 1.0 if w == way else _RULED_OUT for w in WAYS}
    plus, minus = (
        np.degrees(
            [
                x.push
                for x in outlook(replace(asked, number=number, ways=weights)).lies(objects, 1.0)
            ]
        )
        for number in (math.radians(1.0), math.radians(-1.0))
    )
    slope, middle = (plus - minus) / 2.0, (plus + minus) / 2.0
    return [(float(a), float(b)) for a, b in slope], [(float(a), float(b)) for a, b in middle]


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
        " Where another object is to be chosen on it, what is to be added goes for any number."
        if any(s.chosen for s in card.stops)
        else ""
    )
    return (
        f"Push on from the controller’s zero, after {pair}, for a number of +1.0°. For −1.0° the "
        "other way, for another number in proportion. Which of the three: by what it still wants "
        f"at the look back, to the second star with the tube not moved.{unknown}"
    )
