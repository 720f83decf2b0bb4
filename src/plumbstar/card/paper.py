"""The card on paper: A5, both sides, black on white, by typst.

Every word goes to typst as data (JSON), never as markup, so no name can be mistaken for a command.
The fonts are those that come with typst; only letters they lack (emoji, some scripts) are taken
from the computer's own.
"""

from __future__ import annotations

import datetime as dt
from importlib.resources import files
from typing import Any, Literal

import msgspec

from plumbstar.card import drawing
from plumbstar.card.beside import LOOK_BACK, lines_beside, on_note
from plumbstar.card.model import Card, CardStop, Hour, az_alt
from plumbstar.card.page import (
    PageContent,
    PageField,
    PageFinder,
    PageHour,
    PageMoment,
    PageStar,
    PageStop,
)
from plumbstar.errors import UserError, how_to_add
from plumbstar.text.words import chance

Sides = Literal["one", "both"]


def typesetter() -> Any:
    """The typst package, loaded on first need. Raises UserError if it is not installed."""
    try:
        import typst
    except ImportError:
        raise UserError(
            "A card for paper cannot be made: the part that lays out pages is not installed",
            "",
            f"Install it: {how_to_add('card')}. The card for the phone needs nothing more",
        ) from None
    return typst


def pdf(card: Card, sides: Sides = "both") -> bytes:
    """The card as a PDF file's bytes. Raises UserError if typst is not installed."""
    made: bytes = typesetter().compile(
        (files("plumbstar.card") / "page.typ").read_bytes(),
        format="pdf",
        sys_inputs={"card": msgspec.json.encode(content(card, sides)).decode()},
        # The evening's own date: the same card is the same file, whenever it is made.
        timestamp=int(dt.datetime.combine(card.date, dt.time(12), dt.UTC).timestamp()),
    )
    return made


def content(card: Card, sides: Sides) -> PageContent:
    """The card in the template's strings."""
    return PageContent(
        both=sides == "both",
        night=card.night,
        site=card.site,
        place=card.place,
        telescope=card.telescope,
        field=card.field_name,
        zone=card.zone,
        sky=card.sky,
        times=tuple(
            PageMoment(
                what=m.what,
                at=card.time(m.instant) if m.instant else "–",
                meaning=m.meaning if m.instant else m.reason,
            )
            for m in card.moments
        ),
        hours=tuple(_hour(h, card) for h in card.hours),
        hours_note=card.hours_note,
        fields=tuple(
            PageField(
                number=str(f.number),
                name=f.name,
                designation=f.designation,
                at=card.time(f.instant),
                svg=drawing.svg(f, alone=True),
                alike=tuple(f"{letter}: {sentence}" for letter, sentence in f.alike),
                way=f.way,
            )
            for f in card.fields
        ),
        across=f"{2.0 * card.fields[0].radius_deg:.0f}°" if card.fields else "",
        route=card.has_route,
        stops=tuple(_stop(s, card) for s in card.stops),
        finders=tuple(
            PageFinder(name=s.name, at=card.time(s.start), svg=drawing.svg(s.finder, alone=True))
            for s in card.stops
            if s.finder is not None
        ),
        finder_across=_finder_across(card),
        left_out=_left_out(card),
        cautions=tuple(card.cautions),
        beside=lines_beside(card),
        beside_note=on_note(card) if card.beside else "",
    )


def _finder_across(card: Card) -> str:
    first = next((s.finder for s in card.stops if s.finder is not None), None)
    return "" if first is None else f"{2.0 * first.radius_deg:.3g}°"


def _left_out(card: Card) -> tuple[str, ...]:
    """ "no time for it: M 41, M 47": the names that share a reason together."""
    by_reason: dict[str, list[str]] = {}
    for name, why in card.left_out:
        by_reason.setdefault(why, []).append(name)
    return tuple(f"{why}: {', '.join(names)}" for why, names in by_reason.items())


def _hour(h: Hour, card: Card) -> PageHour:
    return PageHour(
        at=card.time(h.instant),
        chance=chance(h.chance) if h.stars else "",
        note=h.note,
        stars=tuple(
            PageStar(
                name=a.name,
                where=a.where + (f", shows from {card.time(a.shows)}" if a.shows else ""),
                numbers=az_alt(a.az_deg, a.alt_deg),
                field=str(a.field) if a.field else "",
            )
            for a in h.stars
        ),
    )


def _stop(s: CardStop, card: Card) -> PageStop:
    return PageStop(
        number=str(s.number),
        at=card.time(s.start),
        name=s.name,
        what=s.what,
        kind=s.kind,
        eyepiece=s.eyepiece,
        power=f"{s.magnification:.0f}×",
        numbers=az_alt(s.az_deg, s.alt_deg),
        where=s.where,
        push=s.push,
        difficulty=s.difficulty,
        reason=s.reason,
        note=s.note,
        sets=f"gone at {card.time(s.sets)}" if s.sets else "",
        on=tuple(f"{left}: {o}" for (_, left), o in zip(LOOK_BACK, s.on, strict=False)),
        chosen=s.chosen,
    )
