"""An XML text from elsewhere as a tree, with nothing in it that reaches out or swells.

No document type is taken, so no entity can be declared: neither one that names a file or an
address, nor ten lines that stand for a thousand million (both come before the first element).
Nothing is ever fetched. Names are kept without their namespace, which logs give differently.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from plumbstar.errors import UserError

#: An evening is some ten kilobytes: a life of observing fits. Deeper nesting is no log.
LARGEST_BYTES, DEEPEST = 64 * 1024 * 1024, 40


@dataclass
class XmlNode:
    """An element: its name, attributes, children, text, and the line that it begins in."""

    name: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    children: list[XmlNode] = field(default_factory=list)

    def all(self, name: str) -> list[XmlNode]:
        return [c for c in self.children if c.name == name]

    def first(self, name: str) -> XmlNode | None:
        return next((c for c in self.children if c.name == name), None)

    def said(self, name: str) -> str:
        """A child's text, without the space round it; empty where there is none."""
        child = self.first(name)
        return child.text.strip() if child is not None else ""


def _plain(name: str) -> str:
    return name.rpartition("}")[2]


class _Builder:
    """What the parser calls."""

    def __init__(self, parser: expat.XMLParserType) -> None:
        self._parser = parser
        self.root: XmlNode | None = None
        self._open: list[XmlNode] = []
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        parser.StartDoctypeDeclHandler = self._doctype

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if len(self._open) >= DEEPEST:
            raise _refused("elements nested deeper than any log", "an observing log")
        node = XmlNode(
            _plain(name),
            {_plain(k): v for k, v in attributes.items()},
            self._parser.CurrentLineNumber,
        )
        if self._open:
            self._open[-1].children.append(node)
        else:
            self.root = node
        self._open.append(node)

    def _end(self, name: str) -> None:
        self._open.pop()

    def _text(self, text: str) -> None:
        if self._open:
            self._open[-1].text += text

    def _doctype(self, name: str, system: str | None, public: str | None, internal: bool) -> None:
        raise _refused(
            "a document type (<!DOCTYPE ...>), which can declare entities",
            "Open Astronomy Log 2.1, which has none",
        )


def _refused(came: str, wanted: str) -> UserError:
    return UserError(came, wanted, "Export the log again from the program that made it")


def parse_xml(text: str | bytes) -> XmlNode:
    """The tree. Raises :class:`UserError` for what is no XML, too large, or declares entities."""
    raw = text.encode("utf-8", "replace") if isinstance(text, str) else text
    if len(raw) > LARGEST_BYTES:
        raise _refused(f"{len(raw) // 1024**2} MB of XML", f"at most {LARGEST_BYTES // 1024**2} MB")
    # A text is decoded already: what its first line says of an encoding no longer holds.
    parser = expat.ParserCreate("utf-8" if isinstance(text, str) else None, "}")
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.buffer_text = True
    builder = _Builder(parser)
    try:
        parser.Parse(raw, True)
    except expat.ExpatError as e:
        raise UserError(
            f"line {e.lineno}: {expat.ErrorString(e.code)}", "XML", "Correct the line"
        ) from None
    except (ValueError, LookupError) as e:  # an encoding that is none
        raise _refused(f"XML that cannot be read ({e})", "XML in UTF-8") from None
    if builder.root is None:
        raise _refused("XML without an element", "an observing log")
    return builder.root
