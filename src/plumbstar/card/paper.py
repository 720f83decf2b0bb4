"""The card on paper: A5, both sides, black on white, by typst.

Every word goes to typst as data (JSON), never as markup, so no name can be mistaken for a command.
The fonts are those that come with typst; only letters they lack (emoji, some scripts) are taken
from the computer's own.
"""

from __future__ import annotations

import datetime as dt
import json
from importlib.resources import files
from typing import Any, Literal

from plumbstar.card import drawing
from plumbstar.card.model import Card, CardStop, Hour, az_alt
from plumbstar.errors import UserError, how_to_add
from plumbstar.text.words import percent

Sides = Literal["one", "both"]


def typesetter() -> Any:
    """The typst package, loaded on first need. Raises UserError if it is not installed."""
    try:
        import typst
    except ImportError:
        raise UserError(
            "a card for paper, but the part that sets pages is not installed",
            "typst",
            f"Install it: {how_to_add('card')}. The card for the phone needs nothing more",
        ) from None
    return typst


def pdf(card: Card, sides: Sides = "both") -> bytes:
    """The card as a PDF file's bytes. Raises UserError if typst is not installed."""
    made: bytes = typesetter().compile(
        (files("plumbstar.card") / "page.typ").read_bytes(),
        format="pdf",
        sys_inputs={"card": json.dumps(content(card, sides))},
        # The evening's own date: the same card is the same file, whenever it is made.
        timestamp=int(dt.datetime.combine(card.date, dt.time(12), dt.UTC).timestamp()),
    )
    return made


def content(card: Card, sides: Sides) -> dict[str, Any]:
    """What the page's template lays out: strings only, and lists of them."""
    return {
        "both": sides == "both",
        "night": card.night,
        "site": card.site,
        "place": card.place,
        "telescope": card.telescope,
        "field": card.field_name,
        "zone": card.zone,
        "sky": card.sky,
        "times": [
            {
                "what": m.what,
                "at": card.time(m.instant) if m.instant else "–",
                "meaning": m.meaning if m.instant else m.reason,
            }
            for m in card.moments
        ],
        "hours": [_hour(h, card) for h in card.hours],
        "hours_note": card.hours_note,
        "fields": [
            {
                "number": str(f.number),
                "name": f.name,
                "designation": f.designation,
                "at": card.time(f.instant),
                "svg": drawing.svg(f, alone=True),
                "alike": [f"{letter}: {sentence}" for letter, sentence in f.alike],
            }
            for f in card.fields
        ],
        "across": f"{2.0 * card.fields[0].radius_deg:.0f}°" if card.fields else "",
        "route": card.has_route,
        "stops": [_stop(s, card) for s in card.stops],
        "left_out": _left_out(card),
        "cautions": list(card.cautions),
    }


def _left_out(card: Card) -> list[str]:
    """ "no time for it: M 41, M 47": the names that share a reason together."""
    by_reason: dict[str, list[str]] = {}
    for name, why in card.left_out:
        by_reason.setdefault(why, []).append(name)
    return [f"{why}: {', '.join(names)}" for why, names in by_reason.items()]


def _hour(h: Hour, card: Card) -> dict[str, Any]:
    return {
        "at": card.time(h.instant),
        "chance": percent(h.chance) if h.stars else "",
        "note": h.note,
        "stars": [
            {
                "name": a.name,
                "where": a.where + (f", shows from {card.time(a.shows)}" if a.shows else ""),
                "numbers": az_alt(a.az_deg, a.alt_deg),
                "field": str(a.field) if a.field else "",
            }
            for a in h.stars
        ],
    }


def _stop(s: CardStop, card: Card) -> dict[str, str]:
    return {
        "number": str(s.number),
        "at": card.time(s.start),
        "name": s.name,
        "what": s.what,
        "kind": s.kind,
        "eyepiece": s.eyepiece,
        "power": f"{s.magnification:.0f}×",
        "numbers": az_alt(s.az_deg, s.alt_deg),
        "where": s.where,
        "push": s.push,
        "difficulty": s.difficulty,
        "reason": s.reason,
        "note": s.note,
        "sets": f"gone at {card.time(s.sets)}" if s.sets else "",
    }
