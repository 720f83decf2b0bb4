"""HTML made of elements.

Text is escaped unless it is Markup, so that a name from outside is only ever a name.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

#: Elements that have no end tag.
_VOID = frozenset({"br", "img", "input", "meta"})


class Markup(str):
    """Text that is HTML already: put in as it is."""

    __slots__ = ()


#: What an element may hold. None and "" add nothing.
Inside = str | None | Iterable["str | None"]


def joined(*inside: Inside) -> Markup:
    """All of it, one after another, each escaped unless it is Markup."""
    parts: list[str] = []
    for part in inside:
        if part is None or isinstance(part, Markup):
            parts.append(part or "")
        elif isinstance(part, str):
            parts.append(escape(part))
        else:
            parts.append(joined(*part))
    return Markup("".join(parts))


def element(tag: str, *inside: Inside, **attributes: str | None) -> Markup:
    """One element. ``class_`` and ``for_`` stand for Python's own words; None leaves one out."""
    given = "".join(
        f' {name.rstrip("_")}="{escape(value)}"'
        for name, value in attributes.items()
        if value is not None
    )
    start = Markup(f"<{tag}{given}>")
    return start if tag in _VOID else Markup(f"{start}{joined(*inside)}</{tag}>")
