"""An evening beside a closed controller, line by line, as the Log shows it."""

from __future__ import annotations

from plumbstar.contract.asked import LoggedShown
from plumbstar.logbook.shown import DisplayEntry, alignments
from plumbstar.logbook.words import corrected_words


def shown_lines(entries: tuple[DisplayEntry, ...]) -> tuple[LoggedShown, ...]:
    """Oldest first."""
    return tuple(
        LoggedShown(
            utc=e.utc.iso(),
            what=_what(e, back),
            shown=f"{_shown(e)}{corrected_words(e.corrected_by_s)}".removeprefix("; "),
        )
        for part in alignments(entries)
        for e, back in _with_look_back(part)
    )


def _with_look_back(part: tuple[DisplayEntry, ...]) -> list[tuple[DisplayEntry, bool]]:
    stars = [e for e in part if e.event == "star"]
    centred = [e for e in part if e.event == "centred"]
    first = centred[0] if len(stars) == 2 and centred and centred[0].star == stars[1].star else None
    return [(e, e is first) for e in part]


def _what(e: DisplayEntry, looks_back: bool) -> str:
    match e.event:
        case "upright":
            return "Tube on the stop"
        case "number":
            return "Its number"
        case "missed":
            return f"{e.star}, not found"
        case "star":
            return f"Star: {e.star}"
        case _ if looks_back:
            return f"Look back: {e.star}"
        case _ if e.chosen:
            return f"{e.star}, centred, with {e.chosen} chosen"
    return f"{e.star}, centred"


def _shown(e: DisplayEntry) -> str:
    if e.number_deg is not None:
        sign = "+" if e.number_deg > 0 else "−" if e.number_deg < 0 else ""
        return f"{sign}{typed(e.number_deg)}°"
    if e.left_az_deg is None or e.left_alt_deg is None:
        return ""
    if e.left_az_deg == 0 and e.left_alt_deg == 0:
        return "nothing left"
    az, alt = side(e.left_az_deg, "right", "left"), side(e.left_alt_deg, "up", "down")
    return ", ".join(x for x in (az, alt) if x)


def side(deg: float, more: str, less: str) -> str:
    """A number of the display as one says it; nothing for nought."""
    return f"{typed(deg)}° {more if deg > 0 else less}" if deg else ""


def typed(deg: float) -> str:
    """Without its sign, with one decimal at least as every display has: "2.0", "0.25"."""
    return f"{abs(deg):.1f}" if round(deg, 1) == deg else f"{abs(deg):g}"
