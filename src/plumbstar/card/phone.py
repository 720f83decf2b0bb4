"""The card for the phone: one HTML file that needs no server, no network and no script.

Night dress is what it opens in: deep red on black. A ticked box changes to day dress by style
alone, so that it also works where a phone shows a kept file without running scripts.
"""

from __future__ import annotations

from importlib.resources import files

from plumbstar.card import drawing
from plumbstar.card.beside import LOOK_BACK, on_note
from plumbstar.card.markup import Inside, Markup, element, joined
from plumbstar.card.model import Card, CardStar, CardStop, Field, Hour, Moment, az_alt
from plumbstar.text.words import chance


def html(card: Card) -> str:
    """The whole file."""
    return f"<!doctype html>\n{element('html', _head(card), _body(card), lang='en')}\n"


def _head(card: Card) -> Markup:
    style = Markup((files("plumbstar.card") / "page.css").read_text(encoding="utf-8"))
    return element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="dark"),
        element("title", f"Night card, {card.night}"),
        element("style", style),
    )


def _body(card: Card) -> Markup:
    return element(
        "body",
        element("input", type="checkbox", id="day", class_="switch"),
        element(
            "label",
            element("span", "Day dress", class_="to-day"),
            element("span", "Night dress", class_="to-night"),
            for_="day",
            class_="button",
        ),
        element(
            "main",
            _top(card),
            _times(card),
            _stars(card),
            _fields(card) if card.fields else None,
            _targets(card) if card.has_route else None,
            _cautions(card),
        ),
    )


def _top(card: Card) -> Markup:
    site = joined(element("strong", card.site), ", ") if card.site else None
    return joined(
        element("h1", f"Night of {card.night}"),
        element("p", site, card.place, element("br"), card.telescope),
        element("p", element("strong", f"Times are {card.zone}."), " ", card.sky),
        element(
            "nav",
            element("a", "Targets", class_="button", href="#targets") if card.has_route else None,
            element("a", "Stars to sight", class_="button", href="#stars"),
        ),
    )


def _section(heading: str, *inside: Inside, id: str | None = None) -> Markup:
    return element("section", element("h2", heading), *inside, id=id)


def _times(card: Card) -> Markup:
    def row(m: Moment) -> Markup:
        time, more = (card.time(m.instant), m.meaning) if m.instant else ("–", m.reason)
        return element("div", element("dt", time), element("dd", m.what, _small(more)))

    return _section("Times", element("dl", map(row, card.moments), class_="times"))


def _small(words: str) -> Markup | None:
    return element("small", words) if words else None


def _paragraph(words: str) -> Markup | None:
    return element("p", words) if words else None


def _stars(card: Card) -> Markup:
    note = card.hours_note
    if not note and card.hours:
        note = f"With each pair, how many targets will then be in the {card.field_name} field."
    hours = element("ol", (_hour(card, h) for h in card.hours), class_="hours")
    return _section("Best two stars to sight", _paragraph(note), hours, id="stars")


def _hour(card: Card, hour: Hour) -> Markup:
    said = element("span", chance(hour.chance)) if hour.stars else None
    return element(
        "li",
        element("h3", card.time(hour.instant), said),
        _paragraph(hour.note),
        (_aim(card, a) for a in hour.stars),
    )


def _aim(card: Card, aim: CardStar) -> Markup:
    name: str = element("a", aim.name, href=f"#star-{aim.field}") if aim.field else aim.name
    where = f"{aim.where}; {az_alt(aim.az_deg, aim.alt_deg)}"
    if aim.shows:
        where += f"; shows from {card.time(aim.shows)}"
    colour = f", {aim.colour}" if aim.colour else None
    return element("p", element("strong", name), colour, _small(where))


def _fields(card: Card) -> Markup:
    across = (
        f"As the eye sees it, zenith at the top, {2.0 * card.fields[0].radius_deg:.0f}° across: a "
        "little more than a hand with spread fingers at arm’s length."
    )
    return _section(
        "Is it the right star?", element("p", across), (_field(card, f) for f in card.fields)
    )


def _field(card: Card, field: Field) -> Markup:
    alike = (
        element("p", element("strong", f"Not {letter}:"), " ", sentence)
        for letter, sentence in field.alike
    )
    caption = element(
        "figcaption",
        element("strong", field.name),
        f", {field.designation}" if field.designation else None,
        _small(f"at {card.time(field.instant)}, {field.where}"),
        element("p", field.way) if field.way else None,
        alike,
    )
    return element("figure", Markup(drawing.svg(field)), caption, id=f"star-{field.number}")


def _targets(card: Card) -> Markup:
    left_out = (element("li", f"{name}: {why}") for name, why in card.left_out)
    return _section(
        "Targets in order",
        None if card.stops else element("p", "None tonight."),
        element("p", on_note(card)) if card.beside and card.stops else None,
        element("ol", (_stop(card, s) for s in card.stops), class_="stops"),
        joined(element("h3", "Left out"), element("ul", left_out)) if card.left_out else None,
        id="targets",
    )


def _stop(card: Card, stop: CardStop) -> Markup:
    seen = f"seen-{stop.number}"
    title = element("h3", element("span", card.time(stop.start)), " ", stop.name)
    gone = f"; gone at {card.time(stop.sets)}" if stop.sets else ""
    return element(
        "li",
        element("input", type="checkbox", id=seen),
        element("label", title, for_=seen),
        _paragraph(stop.what),
        element("p", f"Push {stop.push}", class_="push") if stop.push and not stop.on else None,
        element("p", f"{stop.chosen}.") if stop.chosen else None,
        (
            element("p", _small(left), o, class_="push" if k == 0 else None)
            for k, ((_, left), o) in enumerate(zip(LOOK_BACK, stop.on, strict=False))
        ),
        element(
            "p", "to ", element("strong", az_alt(stop.az_deg, stop.alt_deg)), f", {stop.where}"
        ),
        element("p", f"{stop.eyepiece}, {stop.magnification:.0f} times{gone}"),
        element(
            "p",
            element("strong", f"{stop.difficulty}:"),
            f" {stop.reason}",
            f" {stop.note}" if stop.note else None,
        ),
        _in_finder(stop.finder) if stop.finder is not None else None,
    )


def _in_finder(field: Field) -> Markup:
    wide = f"In the finder, {2.0 * field.radius_deg:.3g}° across; the stroke at the rim is up."
    return element("figure", Markup(drawing.svg(field)), element("figcaption", _small(wide)))


def _cautions(card: Card) -> Markup:
    first, *others = card.cautions
    return element(
        "section",
        element("h2", "Take care"),
        element("p", element("strong", first)),
        (element("p", c) for c in others),
        class_="cautions",
    )
