"""Sentences for every screen. They are not kept: a restart begins with none."""

from __future__ import annotations

import itertools
from typing import Literal

import msgspec

from plumbstar.text.words import upper_first

#: Messages kept on the screen; the oldest fall off.
MOST_MESSAGES = 6

#: What an undo did: true until the next change.
UNDO = "undo"

Kind = Literal["problem", "info"]


class Message(msgspec.Struct, frozen=True):
    """A sentence for the screen. ``about``: what it answers; a later answer takes its place."""

    id: str
    text: str
    kind: Kind
    about: str = ""


class Messages:
    """Those on the screens now, the oldest first, in ``shown``."""

    def __init__(self) -> None:
        self.shown: tuple[Message, ...] = ()
        self._ids = itertools.count(1)
        self._of_target: set[str] = set()

    def say(self, text: str, kind: Kind, *, of_target: bool = False, about: str = "") -> None:
        """Put a sentence on every screen; the same one again, or another about the same, takes the
        place of the first. ``of_target``: only until another is chosen, for then it speaks of what
        nobody is looking for."""
        rest = tuple(m for m in self.shown if m.text != text and not (about and m.about == about))
        fresh = Message(f"m{next(self._ids)}", upper_first(text), kind, about)
        if of_target:
            self._of_target.add(fresh.id)
        self.shown = (*rest, fresh)[-MOST_MESSAGES:]

    def dismiss(self, message_id: str) -> None:
        """Take a message off."""
        self.shown = tuple(m for m in self.shown if m.id != message_id)

    def settled(self, about: str) -> bool:
        """Take off what was about that; False if nothing was."""
        before, self.shown = self.shown, tuple(m for m in self.shown if m.about != about)
        return self.shown != before

    def changed(self) -> None:
        """Take off what was true until the next change."""
        self.shown = tuple(m for m in self.shown if m.about != UNDO)

    def target_chosen(self) -> None:
        """Take off what was about the target before."""
        self.shown = tuple(m for m in self.shown if m.id not in self._of_target)
        self._of_target.clear()
