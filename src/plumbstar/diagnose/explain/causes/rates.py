"""How often the commonest mistakes happen, from the rates by which every fix is weighed.

:mod:`plumbstar.solve.stories` has them by sighting and by gap, here they are by outing; all is
common practice, no source. Two mistakes happen independently of each other, but for two wrong
names: who takes one star for another does so again.
"""

from __future__ import annotations

import math

from plumbstar.diagnose.explain.tails import ORDINARY_TO
from plumbstar.nameless.namings import KNOW
from plumbstar.solve.stories import BAD_RATE, COARSER, MOVED_DEG, MOVED_RATE

#: An outing that somebody asks about has so many sightings,
_SIGHTINGS = 5
#: and a given fault in it is so many times as likely as in any outing.
ASKED = 4.0 / 3.0

_bad = ASKED * _SIGHTINGS * BAD_RATE
_moved = ASKED * (_SIGHTINGS - 1) * MOVED_RATE
_by_base = sum(share for share, axes, _ in MOVED_DEG if "base" in axes)

#: A bad sighting is as often of the right star as of another.
CARELESS_SIGHTING = WRONG_STAR = _bad / 2
SLIP = _moved * (1.0 - _by_base)
BASE_MOVED = _moved * _by_base
#: Hands up to :data:`ORDINARY_TO` are ordinary under every cause. Counted here as well, they made
#: a coarse hand twice as frequent as the table has it beyond that, and "nothing" too shy.
COARSE_CENTRING = ASKED * sum(share for share, times in COARSER if times > ORDINARY_TO)
#: Two names that are both wrong, by how people know the sky.
_pairs_of_stars = math.comb(_SIGHTINGS, 2)
TWO_WRONG_STARS = ASKED * sum(
    share * _pairs_of_stars * wrong**2 * (1.0 - wrong) ** (_SIGHTINGS - 2) for share, wrong in KNOW
)


def of_both(a: str, rate_a: float, b: str, rate_b: float) -> float:
    """How often two causes come together, of which each alone is so frequent among outings that
    are asked about; ``a`` and ``b`` may be the same, twice."""
    if a == b == "wrong_star":
        return TWO_WRONG_STARS * (rate_a / WRONG_STAR) ** 2
    return rate_a * rate_b / ASKED / (2.0 if a == b else 1.0)
