"""A mend of the upright stop in words: what was put under it, and what follows."""

from __future__ import annotations

import math
from enum import Enum, auto

from plumbstar.diagnose.shims.pieces import ShimsNow, beyond
from plumbstar.kit import Kit
from plumbstar.logbook.records import Pieces
from plumbstar.text.words import joined


class Came(Enum):
    """What outings since tell of a mend."""

    NOT_KNOWN = auto()
    AS_TOLD = auto()
    OTHER_WAY = auto()


_CAME = {
    Came.NOT_KNOWN: ". The next night starts from there",
    Came.AS_TOLD: "",
    Came.OTHER_WAY: ", but moved it the other way",
}


def put_words(put: Pieces) -> str:
    """ "3 x 1 mm put in and 1 x 0.5 mm taken out"."""
    added = joined([f"{n} x {t:g} mm" for t, n in put if n > 0])
    taken = joined([f"{-n} x {t:g} mm" for t, n in put if n < 0])
    parts = (f"{added} put in" if added else "", f"{taken} taken out" if taken else "")
    return joined([p for p in parts if p])


def mended_lines(put: Pieces, kit: Kit, now: ShimsNow, came: Came = Came.NOT_KNOWN) -> list[str]:
    """What a mend comes to, a sentence each. ``now``: where the shims were before it."""
    total = sum(t * n for t, n in put)
    size = kit.stop.raised_by(total)
    thicker = f"What is under the stop is {abs(total):g} mm {'thicker' if total > 0 else 'thinner'}"
    if size is None:
        lines = [f"{thicker}. The kit does not say how long the stop's arm is, so "
                 "the stop is learnt anew."]  # fmt: skip
    elif kit.stop.adding == "unknown":
        lines = [f"{thicker}, which moved the stop by {abs(math.degrees(size)):.2f}°, up or down: "
                 "the next outing tells."]  # fmt: skip
    else:
        moves = f"{thicker}, which should move the stop by {math.degrees(size):+.2f}°"
        lines = [f"{moves}{_CAME[came]}."]
    lines += [
        f"The box has {n} fewer of {t:g} mm than that, as far as the kit and the logbook know."
        for t, n in beyond(put, now)
    ]
    return lines
