"""What the field of the eyepiece should look like, and the finder's."""

from __future__ import annotations

from plumbstar.contract.record import Record


class EyepieceView(Record, frozen=True, kw_only=True):
    """``/data/eyepiece``: what the target should look like, and whether it can be seen tonight:
    ``seen`` the answer, ``seen_notes`` with what, why not, and when else. ``finder`` tells how the
    wide picture is seen: in the finder, or by eye."""

    label: str
    seen: str
    seen_notes: tuple[str, ...]
    eyepiece: str
    sentence: str
    ways: str
    notes: tuple[str, ...]
    svg: str
    finder: str
    finder_sentence: str
    finder_ways: str
    finder_svg: str
