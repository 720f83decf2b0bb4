"""A plan for the stop in words."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.diagnose.shims.pieces import ShimsNow
from plumbstar.diagnose.shims.planning import WORTH_IT, ShimPlan, ShimVerdict
from plumbstar.diagnose.shims.thickness import Move
from plumbstar.text.words import chance, sigma_words, upper_first

#: What is off by so much may be a number. Common practice, no source.
FAR_DEG = 3.0
ENTERED = (
    "See first what the altitude circle is set to with the tube on the stop: so much may be a "
    "number entered wrong."
)


def where_they_are(now: ShimsNow) -> str:
    """What is left in the box and what is under the stop."""
    box = " + ".join(f"{s.count} x {s.thickness_mm:g} mm" for s in now.in_box)
    place = " + ".join(f"{s.count} x {s.thickness_mm:g} mm" for s in now.in_place)
    left = f"Left in the box: {box}." if box else "The box is empty."
    return f"{left} Under the stop, as recorded: {place}." if place else left


def by_the_outings(adding: str) -> str:
    """Where outings tell a direction that the kit has not, or has the other way."""
    return f"Reckoned with what the outings tell: adding thickness {adding} the tube."


#: Said first where the stop's term moves from outing to outing.
DRIFTS = "The stop may be drifting: find what moves, or the shims will soon be wrong again."


def said(moves: Sequence[Move]) -> str:
    """ "add 2 x 1 mm and take out 1 x 0.5 mm"."""
    put = " + ".join(f"{m.count} x {m.thickness_mm:g} mm" for m in moves if m.count > 0)
    take = " + ".join(f"{-m.count} x {m.thickness_mm:g} mm" for m in moves if m.count < 0)
    parts = [f"add {put}" if put else "", f"take out {take}" if take else ""]
    return " and ".join(p for p in parts if p) or "nothing"


def lacking(what: str) -> str:
    """Where the kit does not tell enough for a plan: ``what`` it lacks, and what to do."""
    return f"The stop could be shimmed. {what}"


def sentence(p: ShimPlan) -> str:
    """What to do, and what it is worth."""
    c = p.chances
    size = f"{p.offset_deg:+.2f} ± {sigma_words(p.offset_sigma_deg)}°"
    odds = (
        f"Trusting the stop: {chance(c.trusting_before)} targets in the field now, "
        f"{chance(c.trusting_after)} after. Solving it with two good stars: "
        f"{chance(c.solving_before)} now, {chance(c.solving_after)} after; with a third star "
        f"instead: {chance(c.third_star)}."
    )
    if p.verdict is ShimVerdict.SIGHT_ONE_MORE:
        return f"Do not shim yet: the stop, {size}, may be right. {odds}"
    if p.verdict is ShimVerdict.LEAVE:
        return f"The stop is off by {size}, but {_why_leave(p)}. {odds}"
    head = f"The stop is off by {size}: {said(p.moves)}"
    if p.short_of:
        head += f", which still leaves {p.left_deg:+.2f}°"
    if p.verdict is ShimVerdict.SHIM_BY_DAY:
        gain_star = c.third_star - c.solving_before
        gain_solve = c.solving_after - c.solving_before
        more = ", and a third star gains more" if gain_star > max(gain_solve, 0.01) else ""
        return f"{head}, by day. Tonight let the fix allow for it: that loses nothing{more}. {odds}"
    return f"{head}. {odds}"


def _why_leave(p: ShimPlan) -> str:
    if not _poor_fit(p):
        return "mending it would gain hardly anything"
    size = f"{abs(p.wanted_mm):.1f} mm"
    if p.wanted_mm > 0:
        return f"the shims on hand do not come near the {size} it needs"
    return f"it would have to be {size} lower, and no more can be taken out"


def steps(p: ShimPlan) -> tuple[str, ...]:
    """What to do, one step after another."""
    if p.verdict is ShimVerdict.SIGHT_ONE_MORE:
        return (
            "Leave the stop as it is.",
            "Sight one more star, in another part of the sky, and ask again.",
        )
    if p.verdict is ShimVerdict.LEAVE:
        solve = "leave it, and let the fix solve the stop."
        if not _poor_fit(p):
            return (upper_first(solve),)
        size = f"{abs(p.wanted_mm):.1f} mm"
        first = (ENTERED,) if abs(p.offset_deg) >= FAR_DEG else ()
        if p.wanted_mm > 0:
            return (*first, f"Get pieces that make about {size} together.", f"Until then {solve}")
        return (*first, upper_first(solve), f"Or file the stop down by about {size}.")
    cap = "Put the cap on and the tube against the stop, and hold it there."
    out = "This asks you to take thickness out. If nothing is under the stop, file the stop down."
    return (
        cap,
        *((out,) if p.unknown_stack else ()),
        f"{upper_first(said(p.moves))} where the stop bears. Clean both faces first.",
        "Set the altitude at the stop anew and sight two stars a quarter turn apart.",
        f"The offset should then be {round(p.left_deg, 2) + 0.0:+.2f} ± "
        f"{sigma_words(p.left_sigma_deg)}°. "
        f"If it is about {2 * p.offset_deg - p.left_deg:+.2f}° instead, adding thickness "
        "tips the tube the other way.",
        *((_left_over(p),) if p.short_of else ()),
    )


def _left_over(p: ShimPlan) -> str:
    more = abs(p.wanted_mm - p.moved_mm)
    left = f"{p.left_deg:+.2f}° will be left"
    if p.wanted_mm > p.moved_mm:
        return f"The shims on hand do not reach: {left}, for which {more:.1f} mm more are wanted."
    return (
        f"That does not reach: {left}. The stop would have to be {more:.1f} mm lower still, with "
        "nothing more under it to take out: file it down, or let the fix solve what is left."
    )


def _poor_fit(p: ShimPlan) -> bool:
    return (p.short_of or not p.moves) and p.chances.trusting_before < 1.0 - WORTH_IT
