"""Entries in words and by name: one line for a person."""

from __future__ import annotations

from plumbstar.logbook.looks import EveningSky, LoggedLook
from plumbstar.logbook.records import Find, LoggedSighting, Outing
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.text.words import many


def outing_line(o: Outing) -> str:
    """Its heading for a person."""
    where = (o.site.name or f"{o.site.lat_deg:g},{o.site.lon_deg:g}") if o.site else "no site"
    state = ", deleted" if o.deleted else "" if o.ended else ", in progress"
    return (
        f"{o.id:4d}  {o.started.iso()[:16].replace('T', ' ')}  {where}, "
        f"{o.kit_name or 'no kit'}: {many(o.sighting_count, 'sighting')}, "
        f"{many(o.find_count, 'find')}{state}"
    )


def signed_clock(seconds: float) -> str:
    """A difference of time for a person: ``+1:00:00``, ``-0:00:04.2``, with days if need be."""
    tenths = round(abs(seconds) * 10.0)
    whole, tenth = divmod(tenths, 10)
    days, rest = divmod(whole, 86400)
    head = f"{days} d " if days else ""
    tail = f".{tenth}" if tenth else ""
    clock = f"{rest // 3600}:{rest // 60 % 60:02d}:{rest % 60:02d}{tail}"
    return f"{'-' if seconds < 0 else '+'}{head}{clock}"


def corrected_words(seconds: float) -> str:
    """A remark behind an entry whose time was corrected, or nothing."""
    return f"; time corrected by {signed_clock(seconds)}" if seconds else ""


def sighting_line(s: LoggedSighting) -> str:
    """For a person."""
    x = s.sighting
    clock = x.utc.iso()[11:19] if x.utc is not None else "--:--:--"
    state = ", deleted" if s.deleted else "" if s.active else f", set aside: {s.reason}"
    return (
        f"{s.number:4d}  {clock}  {x.star or '(no name)'}: reading {x.az_reading_deg:.3f}, "
        f"{x.alt_reading_deg:.3f} deg; truly {x.true_az_deg:.3f}, {x.true_alt_deg:.3f}{state}"
        f"{corrected_words(s.corrected_by_s)}"
    )


def find_line(f: Find) -> str:
    """For a person."""
    told = f"predicted {f.predicted_az_deg:.3f}, {f.predicted_alt_deg:.3f} deg"
    if f.found_az_deg is None or f.found_alt_deg is None:
        return (
            f"{f.number:4d}  {f.utc.iso()[11:19]}  {f.target}: not found; {told}"
            + corrected_words(f.corrected_by_s)
        )
    at = f"found at {f.found_az_deg:.3f}, {f.found_alt_deg:.3f} deg"
    more = corrected_words(f.corrected_by_s)
    return f"{f.number:4d}  {f.utc.iso()[11:19]}  {f.target}: {at}; {told}{more}"


def display_line(number: int, e: DisplayEntry) -> str:
    """A tap beside a closed controller, for a person."""
    left = (
        f", still to push {e.left_az_deg:+g}, {e.left_alt_deg:+g} deg"
        if e.left_az_deg is not None and e.left_alt_deg is not None
        else ""
    )
    what = {
        "upright": "the tube on the stop",
        "star": f"star {e.star}",
        "number": f"the number {e.number_deg:+g} deg" if e.number_deg is not None else "the number",
        "centred": f"{e.star} centred",
        "missed": f"{e.star} not found, {many(len(e.looked), 'field')} looked at"
        if e.looked
        else f"{e.star} not found",
    }[e.event]
    by = f" (by {e.chosen})" if e.chosen else ""
    clock = e.utc.iso()[11:19]
    return f"{number:4d}  {clock}  {what}{by}{left}{corrected_words(e.corrected_by_s)}"


#: How well an object was seen, for a person.
SEEN_WORDS = {
    "clearly": "clearly seen",
    "faintly": "faintly seen",
    "barely": "barely seen",
    "seen": "seen",
    "not": "in the field, not seen",
}
_SEEING = ("still", "good", "fair", "poor", "boiling")
_CLEAR = ("very clear", "clear", "a little haze", "hazy", "cloud")


def look_line(x: LoggedLook) -> str:
    """For a person."""
    told = [SEEN_WORDS[x.seen], x.eyepiece, "deleted" if x.deleted else ""]
    words = f". {' '.join(x.words.split())}" if x.words else ""
    line = f"      {x.utc.iso()[11:19]}  {x.target}: {', '.join(t for t in told if t)}{words}"
    return line + corrected_words(x.corrected_by_s)


def sky_words(x: EveningSky) -> str:
    """The sky as it was told, for a person."""
    told = (
        f"seeing {_SEEING[x.seeing - 1]} ({x.seeing} of 5)" if x.seeing else "",
        f"{_CLEAR[x.transparency - 1]} ({x.transparency} of 5)" if x.transparency else "",
        f"zenith {x.zenith_mag:g} mag a square arcsecond" if x.zenith_mag is not None else "",
        f"naked-eye stars to {x.faintest_mag:g}" if x.faintest_mag is not None else "",
        " ".join(x.words.split()),
    )
    return ", ".join(t for t in told if t)
