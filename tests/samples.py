"""How often a statistical test tries: a quick handful in the suite, many times in its long form.

``LONG=1 ./dev pytest tests/solve`` runs the long form, which is what a change of the arithmetic is
to be tried with. The bounds follow the number of tries, so both hold what they can show.
"""

from __future__ import annotations

import math
import os

LONG = bool(os.environ.get("LONG"))


def tries(quick: int, long: int) -> int:
    """How many, in the form that runs."""
    return long if LONG else quick


def chance_of(rate: float, share: float, n: int) -> bool:
    """Whether ``rate`` of ``n`` tries may be chance where ``share`` is true: three binomial sigma
    and half a try."""
    return abs(rate - share) <= 3.0 * math.sqrt(share * (1.0 - share) / n) + 0.5 / n
