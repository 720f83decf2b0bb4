"""What may be the matter with a logbook's file, as kinds; the words are made here, last."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from plumbstar.errors import UserError
from plumbstar.logbook.records import NotSaved
from plumbstar.text.advice import Advice, Do

ENVIRONMENT = "PLUMBSTAR_LOGBOOK"
BUSY_SECONDS = 10.0


class Trouble(Enum):
    """A kind of failure. What follows from it (advice, an HTTP status) goes by the kind."""

    FULL = auto()
    READ_ONLY = auto()
    DISK_ERROR = auto()
    DAMAGED = auto()
    MISSING = auto()  # no file, but a copy that holds something
    EMPTIED = auto()  # a file with nothing in it, beside such a copy
    EMPTIER = auto()  # a sound file that does not hold what the copy holds
    COPY_DAMAGED = auto()  # no file or an empty one, beside a copy that cannot be read whole
    LOCKED = auto()
    CANNOT_OPEN = auto()
    MOVED = auto()
    NEWER = auto()
    ANOTHER_PROGRAMS = auto()
    OTHER = auto()


class LogbookTrouble(UserError):
    """The file, its disk or its place will not do. ``kind`` says which; nobody typed anything."""

    def __init__(self, kind: Trouble, sentence: str, remedy: str | Advice) -> None:
        super().__init__(sentence, "", remedy)
        self.kind = kind
        #: The sentence alone, whatever was to be done when it was found.
        self.matter = sentence


class LogbookRefused(LogbookTrouble, NotSaved):
    """So, and a change that was asked for is not in the logbook, and nothing of it is."""


_SENTENCES = {
    Trouble.FULL: "The disk of the logbook {path} is full",
    Trouble.READ_ONLY: "The logbook {path} or its disk is read-only",
    Trouble.DISK_ERROR: "The disk of the logbook {path} refused ({detail})",
    Trouble.DAMAGED: "The logbook {path} is damaged or is no logbook ({detail})",
    Trouble.MISSING: "The logbook {path} is not there, but a good copy of it is",
    Trouble.EMPTIED: "The logbook {path} is empty, but a good copy of it is not",
    Trouble.EMPTIER: "The logbook {path} does not hold what its good copy holds",
    Trouble.COPY_DAMAGED: "The logbook {path} is gone or empty, and its good copy is damaged",
    Trouble.LOCKED: f"Another program has held the logbook {{path}} for over {BUSY_SECONDS:g} s",
    Trouble.CANNOT_OPEN: "The logbook {path} cannot be opened",
    Trouble.MOVED: "The logbook {path} was moved, replaced or deleted while it was open",
    Trouble.NEWER: "The logbook {path} was written by a newer Plumbstar (schema {detail})",
    Trouble.ANOTHER_PROGRAMS: "The file {path} belongs to another program, and was left as it is",
    Trouble.OTHER: "The logbook {path} could not be used (SQLite: {detail})",
}
_REMEDIES: dict[Trouble, str | Advice] = {
    Trouble.FULL: "Free some space and try again",
    Trouble.READ_ONLY: Advice(Do.MAKE_THE_LOGBOOK_WRITABLE, ENVIRONMENT),
    Trouble.DISK_ERROR: "Check the disk, and whether it has room",
    Trouble.LOCKED: "Try again, or close the other program",
    Trouble.CANNOT_OPEN: Advice(Do.NAME_ANOTHER_LOGBOOK, ENVIRONMENT),
    Trouble.MOVED: "Put it back, or start the program again to begin a new one",
    Trouble.NEWER: Advice(Do.UPDATE_OR_NAME_ANOTHER_LOGBOOK),
    Trouble.ANOTHER_PROGRAMS: "Name another path",
    Trouble.OTHER: (
        "Keep a copy of the file, with the -wal and -shm files beside it if there are any, and "
        "report this"
    ),
}


def told(
    kind: Trouble,
    path: Path | str,
    *,
    detail: str = "",
    remedy: str | Advice | None = None,
    saving: bool = False,
) -> LogbookTrouble:
    """The error to raise. ``remedy`` where it takes more than the kind to know what to do."""
    sentence = _SENTENCES[kind].format(path=path, detail=detail)
    advice = _REMEDIES[kind] if remedy is None else remedy
    if saving:
        refused = LogbookRefused(kind, f"Nothing was saved. {sentence}", advice)
        refused.matter = sentence
        return refused
    return LogbookTrouble(kind, sentence, advice)
