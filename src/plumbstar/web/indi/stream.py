"""What a program sends: elements one after another, without an end, taken apart safely.

Each element is cut out of the stream first, then read by itself. So no document ever begins in
which an entity could be declared, nothing is kept from one element to the next, and what has not
ended is bounded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

#: One element, at the most. The largest that a telescope is sent has a few hundred bytes.
LIMIT = 16 * 1024
#: Parts of one element, at the most.
MOST_PARTS = 50

_NAME = re.compile(rb"<([A-Za-z][A-Za-z0-9_.-]{0,40})(?=[\s/>])")
_QUOTE_OR_END = re.compile(rb"[\"'<>]")
_SPACE = b" \t\r\n"


@dataclass(frozen=True)
class IndiCommand:
    """One element: its tag, its attributes, and the (name, text) of each part in it."""

    tag: str
    attributes: dict[str, str]
    parts: tuple[tuple[str, str], ...]
    text: str = ""

    def given(self, name: str) -> str:
        """An attribute; empty when there is none."""
        return self.attributes.get(name, "")


class BadStream(Exception):
    """Nothing that comes after it can be understood: say why, and cut the line."""


class IndiStream:
    """Bytes in, elements out."""

    def __init__(self) -> None:
        self._held = b""
        # How far the end of the element was looked for in vain: each byte is looked at once,
        # however slowly they come. Whether that is past its start tag; the quote that is open.
        self._looked, self._started, self._quote = 0, False, b""

    @property
    def unfinished(self) -> bool:
        """Whether an element has begun that has not ended."""
        return self._held != b""

    def feed(self, data: bytes) -> Iterator[IndiCommand]:
        """The elements that are whole now, one by one. Raises BadStream for what is none, when all
        that came before it were given."""
        self._held += data
        while (whole := self._next()) is not None:
            if whole:
                yield _read(whole)

    def _next(self) -> bytes | None:
        """The next element cut out; empty for a declaration, None while it is not whole."""
        held = self._held = self._held.lstrip(_SPACE)
        if not held:
            return None
        if held[:1] != b"<":
            # The first byte of HTTP, of TLS, and of whatever else is no element.
            raise BadStream(f"an element was wanted, and {held[:20]!r} came")
        if b"<?xml ".startswith(held[:6]):  # some send it; the protocol has none
            declared = held.find(b"?>", 0, 200)
            if declared < 0:
                self._wait(200)
                return None
            return self._cut(declared + 2, drop=True)
        name = _NAME.match(held)
        if name is None:
            if len(held) < 50 and re.fullmatch(rb"<([A-Za-z][A-Za-z0-9_.-]{0,40})?", held):
                return None
            raise BadStream(f"an element was wanted, and {held[:20]!r} came")
        if name[1] in (b"newBLOBVector", b"setBLOBVector"):
            raise BadStream("a BLOB came, and none is taken")
        end = self._end(held, name[1])
        if end is None:
            self._wait(LIMIT)
            return None
        return self._cut(end)

    def _end(self, held: bytes, name: bytes) -> int | None:
        if not self._started:
            start = self._start_tag(held)
            if start is None or held[start - 2 : start] == b"/>":
                return start
            self._started = True
        close = b"</" + name
        at = held.find(close, self._looked)
        while at >= 0:
            rest = held[at + len(close) : at + len(close) + 20].lstrip(_SPACE)
            if rest[:1] == b">":
                return held.index(b">", at) + 1
            if rest == b"":  # its > is still on the way
                return None
            at = held.find(close, at + 1)
        self._looked = max(self._looked, len(held) - len(close))
        return None

    def _start_tag(self, held: bytes) -> int | None:
        """Where it ends; a > may stand in a quoted value. Raises BadStream."""
        self._looked = max(self._looked, 1)
        while True:
            if self._quote:
                at = held.find(self._quote, self._looked)
                if at < 0:
                    self._looked = len(held)
                    return None
                self._quote = b""
            else:
                m = _QUOTE_OR_END.search(held, self._looked)
                if m is None:
                    self._looked = len(held)
                    return None
                at = m.start()
                if m[0] == b">":
                    self._looked = at + 1
                    return at + 1
                if m[0] == b"<":
                    raise BadStream(f"a tag within the tag {held[:20]!r} came")
                self._quote = m[0]
            self._looked = at + 1

    def _wait(self, limit: int) -> None:
        if len(self._held) > limit:
            raise BadStream(f"an element of more than {limit} bytes came")

    def _cut(self, end: int, drop: bool = False) -> bytes:
        whole, self._held = self._held[:end], self._held[end:]
        self._looked, self._started, self._quote = 0, False, b""
        if len(whole) > LIMIT:
            raise BadStream(f"an element of more than {LIMIT} bytes came")
        return b"" if drop else whole


def _read(whole: bytes) -> IndiCommand:
    """Read one element that has been cut out. Raises BadStream."""
    try:
        root = ElementTree.fromstring(whole)
    except (ElementTree.ParseError, ValueError, LookupError):
        raise BadStream(f"what begins with {whole[:20]!r} is not well-formed XML") from None
    if len(root) > MOST_PARTS or any(len(part) for part in root):
        raise BadStream(f"{root.tag} has too many parts, or parts within parts")
    parts = tuple((p.get("name", ""), (p.text or "").strip()) for p in root)
    return IndiCommand(root.tag, dict(root.attrib), parts, (root.text or "").strip())


def number(text: str) -> float | None:
    """A number as the protocol writes it, plain or sexagesimal (``-12:30:15.5``, also with spaces
    or semicolons); None for what is none."""
    m = re.fullmatch(
        r"\s*([+-]?)(\d{1,6}(?:\.\d*)?|\.\d+)(?:[eE]([+-]?\d{1,2}))?\s*", text[:60], re.A
    )
    if m is not None:
        value = float(m[2]) * 10.0 ** int(m[3] or 0)
        return -value if m[1] == "-" else value
    m = re.fullmatch(
        r"\s*([+-]?)(\d{1,4})[:; ]\s*(\d{1,2}(?:\.\d*)?)(?:[:; ]\s*(\d{1,2}(?:\.\d*)?))?\s*",
        text[:60],
        re.A,
    )
    if m is None:
        return None
    minutes, seconds = float(m[3]), float(m[4] or 0.0)
    if minutes >= 60.0 or seconds >= 60.0 or (m[4] is not None and "." in m[3]):
        return None
    value = int(m[2]) + minutes / 60.0 + seconds / 3600.0
    return -value if m[1] == "-" else value
