"""What may have gone wrong on an evening beside a controller, and how likely that is beforehand.

Every rate and size is common practice, no source; design/beside_a_controller.py plays what they are
worth. Words are made elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from plumbstar.solve.stories import FAR_OFF_RATE, FAR_OFF_TIMES

#: Of each star: that it is another one, and that it is the right one but badly centred.
STAR_WRONG, STAR_FUMBLED = 0.015, 0.005
#: Of the number, of each find, and before each find.
NUMBER_MISREAD, FIND_MISREAD, SLIPPED = 0.005, 0.01, 0.01
#: That the number was typed with the other sign, where the kit says which sign it has.
NUMBER_TURNED = 0.01
#: (share, 1 sigma, radians): how far off another star is; a neighbour, or anything bright.
WRONG_OFF = ((0.8, math.radians(6.0)), (0.2, math.radians(30.0)))
#: How far off a star badly centred is, a number or a find, or what slipped, 1 sigma, radians.
FUMBLED_OFF = math.radians(0.6)
MISREAD_OFF, SLIP_OFF = math.radians(3.0), math.radians(2.5)
#: That the second star is centred anew before the look back, though the tube should rest: the sky
#: turns on. No mistake, but what is left then has two centrings in it.
RECENTRED = 0.1
#: How many times rougher than the kit says the hand is, and how likely, before it is known. Three
#: rows for the eleven of ``COARSER`` (solve/stories.py), since each is an account beside every
#: mistake: hands up to 1.5 times, and finer ones, go with the first; rougher ones are as frequent
#: to a hundredth (5 in 100 for 4.2). What docs/controller.md tells was measured with these.
Hands = tuple[tuple[float, float], ...]
USUAL_HANDS: Hands = ((1.0, 0.95), (2.0, 0.04), (4.0, 0.01))


@dataclass(frozen=True)
class Mistake:
    """``kind`` is none, star, number, sign (the number with the other sign), find, slip, hand
    (rougher than the kit says) or mount (further off than it expects); ``index`` of the star or the
    find."""

    kind: str = "none"
    index: int = 0


@dataclass(frozen=True)
class Account:
    """One account of the evening: a mistake or none, and its ``rate`` beforehand. ``off``: how far
    a star, a number or a find is off by it, or what slipped, 1 sigma, radians. ``hand``: how many
    times rougher than the kit says. ``mount``: how many times further off than it expects.
    ``recentred``: the second star was centred anew before the look back."""

    mistake: Mistake
    rate: float
    off: float = 0.0
    hand: float = 1.0
    mount: float = 1.0
    recentred: bool = False


#: Before anything is shown, by kind; of a star, a find or a slip each.
BEFOREHAND: Mapping[str, float] = {
    "star": STAR_WRONG + STAR_FUMBLED,
    "number": NUMBER_MISREAD,
    "sign": NUMBER_TURNED,
    "find": FIND_MISREAD,
    "slip": SLIPPED,
    "hand": sum(p for times, p in USUAL_HANDS if times > 1.0),
    "mount": FAR_OFF_RATE,
}


def accounts(
    number: bool,
    finds: int,
    slips: int,
    hands: Hands,
    looked_back: bool = False,
    signed: bool = False,
) -> list[Account]:
    """Of an evening with or without a number, with so many finds and so many moments at which
    something may have slipped; ``looked_back``: the first of the finds is a look back; ``signed``:
    there is a number other than nought, and its sign is known.

    A mistake beside which the hand is of another kind than the likeliest is left out.
    """
    usual, p_usual = max(hands, key=lambda h: h[1])
    told = [
        Account(Mistake("star", i), rate, off, usual)
        for i in (0, 1)
        for rate, off in (
            *((STAR_WRONG * share, off) for share, off in WRONG_OFF),
            (STAR_FUMBLED, FUMBLED_OFF),
        )
    ]
    told.append(Account(Mistake("mount"), FAR_OFF_RATE, hand=usual, mount=FAR_OFF_TIMES))
    if number:
        told.append(Account(Mistake("number"), NUMBER_MISREAD, MISREAD_OFF, usual))
    if signed:
        told.append(Account(Mistake("sign"), NUMBER_TURNED, hand=usual))
    told += [Account(Mistake("find", k), FIND_MISREAD, MISREAD_OFF, usual) for k in range(finds)]
    told += [Account(Mistake("slip", k), SLIPPED, SLIP_OFF, usual) for k in range(slips)]
    well = max(0.5, 1.0 - sum(a.rate for a in told))
    rests = ((False, 1.0 - RECENTRED), (True, RECENTRED)) if looked_back else ((False, 1.0),)
    return [
        *(
            Account(
                Mistake("hand" if times > 1.0 else "none"),
                well * p * share,
                hand=times,
                recentred=anew,
            )
            for times, p in hands
            for anew, share in rests
        ),
        *(Account(a.mistake, a.rate * p_usual, a.off, a.hand, a.mount) for a in told),
    ]
