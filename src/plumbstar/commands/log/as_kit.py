"""What past outings taught, as lines for a kit file."""

from __future__ import annotations

import math

from plumbstar.diagnose.history import StopMended
from plumbstar.diagnose.learn import Learnt, TermLearnt
from plumbstar.kit import Kit
from plumbstar.mount.terms import SCALES, shown_in
from plumbstar.text.words import many


def kit_lines(learnt: Learnt, kit: Kit, mended: StopMended | None = None) -> list[str]:
    """TOML: the hand, and under ``[priors]`` value and sigma of each term that was taught.

    A sigma has two figures, rounded up, so that nothing is claimed by rounding, and a value as many
    decimals. The runout's two parts share one sigma: the larger. ``mended``: the last mend of the
    stop; where outings tell that adding tips the tube otherwise than the kit has it, that is a
    line, too.
    """
    taught = [t for t in learnt.terms if t.outings]
    n = len({o for t in taught for o in t.outings})
    lines = []
    if learnt.hand is not None:
        lines.append(f"centring_arcmin = {learnt.hand.arcmin:.2g}    # above every [heading]")
    lines.append(f"[priors]    # of {kit.name}, taught by {many(n, 'outing')}")
    runout = [t for t in taught if t.name.startswith("azimuth_runout")]
    for t in taught:
        stem = t.name.removeprefix("azimuth_") if t in runout else t.name
        unit = "percent" if t.name in SCALES else "deg"
        value, sigma = _rounded(t)
        lines.append(f"{stem}_{unit} = {value}")
        if t not in runout:
            lines.append(f"{stem}_sigma_{unit} = {sigma}")
    if runout:
        lines.append(f"runout_sigma_deg = {_rounded(max(runout, key=lambda t: t.sigma))[1]}")
    if mended is not None and (mended.wrong_way or mended.direction_found):
        day = mended.utc.iso()[:10]
        lines += [
            "[stop]    # the kit has these lines already: put this one in place of its own",
            f'adding = "{mended.adding}"    # told by the outings since the mend of {day}',
        ]
    return lines


def _rounded(t: TermLearnt) -> tuple[str, str]:
    """Value and sigma as text, in the unit in which the kit has them."""
    factor, _ = shown_in(t.name)
    sigma = t.sigma * factor
    places = max(0, 1 - math.floor(math.log10(sigma)))
    up = math.ceil(sigma * 10**places - 1e-9) / 10**places
    return f"{t.mean * factor + 0.0:.{places}f}", f"{up:.{places}f}"


#: For whom the lines are: who keeps them beside the logbook believes everything twice.
NOT_TWICE = (
    "# For another logbook, or for work without one. In this logbook these outings would count\n"
    "# twice: `plumbstar log priors --reset` has all terms learnt anew from now on."
)
