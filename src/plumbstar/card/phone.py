"""The card for the phone: one HTML file that needs no server, no network and no script.

Night dress is what it opens in: deep red on black. A ticked box changes to day dress by style
alone, so that it also works where a phone shows a kept file without running scripts.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

from jinja2 import Environment, FunctionLoader, Template
from markupsafe import Markup

from plumbstar.card import drawing
from plumbstar.card.model import Card, Field, az_alt
from plumbstar.text.words import percent


@lru_cache(maxsize=1)
def _template() -> Template:
    def load(name: str) -> str:
        return (files("plumbstar.card") / name).read_text(encoding="utf-8")

    # Everything is escaped but what is marked as safe below: our own drawings and style.
    env = Environment(
        loader=FunctionLoader(load), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    return env.get_template("page.html")


def html(card: Card) -> str:
    """The whole file."""
    return _template().render(
        card=card,
        style=Markup((files("plumbstar.card") / "page.css").read_text(encoding="utf-8")),
        drawing=_drawing,
        az_alt=az_alt,
        percent=percent,
        time=card.time,
    )


def _drawing(field: Field) -> Markup:
    return Markup(drawing.svg(field))
