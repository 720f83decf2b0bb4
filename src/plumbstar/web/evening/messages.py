"""Sentences for every screen. They are not kept: a restart begins with none."""

from __future__ import annotations

import itertools
from typing import Literal

import msgspec

from plumbstar.text.words import upper_first

#: Messages kept on the screen; the oldest fall off.
MOST_MESSAGES = 6

Kind = Literal["problem", "info"]


class Message(msgspec.Struct, frozen=True):
    """A sentence for the screen."""

    id: str
    text: str
    kind: Kind


class Messages:
    """Those on the screens now, the oldest first, in ``shown``."""

    def __init__(self) -> None:
        self.shown: tuple[Message, ...] = ()
        self._ids = itertools.count(1)

    def say(self, text: str, kind: Kind) -> None:
        """Put a sentence on every screen; the same one again replaces itself."""
        rest = tuple(m for m in self.shown if m.text != text)
        fresh = Message(f"m{next(self._ids)}", upper_first(text), kind)
        self.shown = (*rest, fresh)[-MOST_MESSAGES:]

    def dismiss(self, message_id: str) -> None:
        """Take a message off."""
        self.shown = tuple(m for m in self.shown if m.id != message_id)
