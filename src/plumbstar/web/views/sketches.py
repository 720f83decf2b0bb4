"""A sketch for the pages: strokes as a path, a photograph as it is."""

from __future__ import annotations

from plumbstar.contract.seen_log import LoggedSketch
from plumbstar.errors import UserError
from plumbstar.logbook import Sketch
from plumbstar.logbook.looks import Strokes

#: A star: a ring so small that its line fills it.
_DOT = "m-10 0a10 10 0 1 0 20 0a10 10 0 1 0-20 0"


def path_of(strokes: Strokes) -> str:
    """An SVG path; a stroke of one point is a dot."""
    parts = []
    for stroke in strokes:
        if stroke:
            (x, y), rest = stroke[0], stroke[1:]
            lines = "".join(f"L{a} {b}" for a, b in rest) if rest else _DOT
            parts.append(f"M{x} {y}{lines}")
    return "".join(parts)


def sketch_line(s: Sketch) -> LoggedSketch:
    return LoggedSketch(id=s.id, path=path_of(s.strokes) if s.kind == "strokes" else "")


def picture(s: Sketch) -> tuple[bytes, str]:
    """A photograph's bytes and their media type. Raises :class:`UserError` for a drawing."""
    if s.kind == "strokes":
        raise UserError(f"Sketch {s.id} is drawn in lines, no picture", "", "Open it in the Log")
    return s.picture, f"image/{s.kind}"
