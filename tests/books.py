"""A logbook in memory without the wait: the new one is made once, and copied."""

from __future__ import annotations

import sqlite3
import time
from functools import cache

from plumbstar.logbook import seals
from plumbstar.logbook.file import LogbookFile
from plumbstar.logbook.store import Logbook


@cache
def _new() -> bytes:
    with Logbook.open(":memory:") as book:
        return book.file.db.serialize()


def in_memory() -> Logbook:
    """As ``Logbook.open(":memory:")`` gives it: an empty one of the newest schema."""
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    db.deserialize(_new())
    seals.register(db)
    db.execute("PRAGMA foreign_keys = ON")
    return Logbook(LogbookFile(db, ":memory:", False, time.time))
