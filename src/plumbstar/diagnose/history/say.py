"""What many outings say of the mount, in words: the changes, what to do, and the whole."""

from __future__ import annotations

from typing import NamedTuple

from plumbstar.diagnose.history.record import FOUND, Job, StopMended, Summary, TermChange, Work
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import chance, many, sigma_with_unit, sigma_words, term, upper_first


class Deed(NamedTuple):
    """A thing to do, as the start of a sentence, and what helps with it in the program."""

    what: str
    advice: Advice | None = None


def _check(name: str) -> Advice:
    return Advice(Do.DO_A_CHECK, name)


_DISC: tuple[Deed, Deed] = (
    Deed("Centre the azimuth circle"),
    Deed("Look for play in the azimuth circle"),
)
#: What to do about a term that is off, and about one that is not but is not known well either.
_MEND: dict[str, tuple[Deed, Deed]] = {
    "altitude_zero": (
        Deed("Put the stop right", Advice(Do.READ_OF_SHIMS)),
        Deed("Make the stop bear firmly and the same way each time", _check("stop-repeat")),
    ),
    "squareness": (
        Deed("Square the altitude bearings: shim under one of the two"),
        Deed("Look for play in the altitude bearings"),
    ),
    "cone": (
        Deed("Square the tube in its cradle", Advice(Do.CHECK_OVER_THE_TOP)),
        Deed("Look for what shifts the tube or the optical axis: cradle, mirror cell, collimation"),
    ),
    "droop": (
        Deed("Stiffen the tube, or move the balance"),
        Deed("Look for play in the tube"),
    ),
    "azimuth_scale": (
        Deed("Correct how many counts the azimuth takes for a turn", _check("once-round")),
        Deed("Look for slip of the azimuth encoder", _check("once-round")),
    ),
    "altitude_scale": (
        Deed("Correct how many counts the altitude takes for a turn"),
        Deed("Look for slip of the altitude encoder", _check("there-and-back")),
    ),
    "azimuth_runout_sin": _DISC,
    "azimuth_runout_cos": _DISC,
    "refraction": (
        Deed("Leave it to the fix: nothing of the mount is to be mended"),
        Deed("Sight a star or two lower down, where it shows"),
    ),
}


def told(name: str) -> str:
    """A term as the subject of a sentence; a stop that jumps may be its encoder's slip."""
    return f"the {term(name)}{' (or the altitude encoder)' if name == 'altitude_zero' else ''}"


def change_sentence(c: TermChange) -> str:
    """A step or a slope, without the full stop."""
    who = f"{'' if c.found else 'perhaps '}{told(c.name)}"
    by = f"{c.size:+.2f} ± {sigma_with_unit(c.size_sigma, c.unit)}"
    if c.kind == "jump":
        day = f" ({c.utc.iso()[:10]})" if c.utc is not None else ""
        said = f"changed by {by} between outing {c.before_id} and outing {c.outing_id}{day}"
    else:
        said = f"drifts, {by} over the whole span"
    return upper_first(f"{who} {said}: {chance(c.probability)}")


def _deed(j: Job) -> Deed:
    match j.work:
        case Work.FIND_THE_DRIFT:
            return Deed(f"Find what makes {told(j.name)} drift before mending its present value")
        case Work.MEND:
            return _MEND[j.name][0]
        case Work.LEARN:
            return Deed(f"More outings, with stars high and low, to learn of {told(j.name)}")
        case Work.STEADY:
            return _MEND[j.name][1]


def job_words(j: Job) -> str:
    """What to do, as the start of a sentence."""
    return _deed(j).what


def job_advice(j: Job) -> Advice | None:
    """What helps with it elsewhere in the program."""
    return _deed(j).advice


def mended_sentence(m: StopMended | None, on_pages: bool = False) -> str:
    """What came of the last mend of the stop, as far as outings tell; none where it did as told.
    ``on_pages``: a button below writes the direction."""
    if m is None:
        return ""
    day, told = m.utc.iso()[:10], f"{m.told_deg:+.2f}°"
    if m.wrong_way:
        return (
            f"The shims went the wrong way: those of {day} were to move the stop by {told}, and it "
            f"moved as far the other way ({chance(m.turned)}). "
            f"Adding thickness {m.adding} the tube{_write(m, on_pages)}."
        )
    if m.direction_found:
        found = f"The mend of {day} tells that adding thickness {m.adding} the tube"
        return f"{found}{_write(m, on_pages)}."
    if not m.outings:
        if m.doubt < 0.5:
            moved = f"Since the mend of {day} the stop should be off by {m.now_deg:+.2f}"
            return f"{moved} ± {sigma_words(m.now_sigma_deg)}°: the next outing tells."
        moved = f"The mend of {day} moved the stop by {told.lstrip('+-')}, up or down"
        return f"{moved}: the next outing tells which."
    if m.doubt >= 0.5 or m.turned > 1.0 - FOUND:
        return (
            f"Whether the mend of {day} went the right way is not settled yet: one more outing, "
            "with a star high and one low."
        )
    return ""


def _write(m: StopMended, on_pages: bool) -> str:
    if on_pages:
        return ""
    where = "under [stop] in the kit (on the phone: Mend, Many nights)"
    return f': write adding = "{m.adding}" {where}'


def sentence(s: Summary) -> str:
    """Everything in a few sentences: what has changed, what is known, what to do first."""
    return " ".join(sentences(s))


def sentences(s: Summary, on_pages: bool = False) -> tuple[str, ...]:
    """The same, what matters most first: a mend that went wrong, or what has changed."""
    known = [term(t.name) for t in s.terms if t.trust == "trusted"]
    mended = mended_sentence(s.mended, on_pages)
    if s.changes:
        first = f"{change_sentence(s.changes[0])}."
    elif s.outings < 3:
        first = "Too few outings to tell a change from an accident."
    else:
        nothing = "Nothing else" if mended else "Nothing"
        first = f"{nothing} has changed from outing to outing that these sightings can see."
    if known:
        second = f"Known well enough to start a night with: {', '.join(known)}."
    else:
        second = "No term is known well enough yet to start a night with."
    if s.jobs:
        what = job_words(s.jobs[0])
        third = f"What to do first: {what[0].lower()}{what[1:]}."
    else:
        third = "Nothing is worth mending."
    count, *said = (f"{many(s.outings, 'outing')}.", *(p for p in (mended, first) if p))
    return (f"{count} {said[0]}", *said[1:], second, third)
