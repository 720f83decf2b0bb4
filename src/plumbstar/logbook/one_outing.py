"""The logbook with one outing in it and no other, as bytes: where a recording begins."""

from __future__ import annotations

import sqlite3

from plumbstar.logbook.file import LogbookFile


def copy_of_one(file: LogbookFile, outing_id: int | None) -> bytes:
    """An SQLite file with that outing (None: none), the settings and the sites; ids as they are."""
    with sqlite3.connect(":memory:", isolation_level=None) as copy:
        file.db.backup(copy)
        copy.execute("PRAGMA foreign_keys = ON")  # what hangs on an outing goes with it
        copy.execute("DELETE FROM outings WHERE id IS NOT ?", (outing_id,))
        copy.execute("DELETE FROM changes WHERE outing_id IS NOT ?", (outing_id,))
        copy.execute("VACUUM")
        raw = copy.serialize()
    copy.close()
    # As saved in memory it names the write-ahead log, which no copy has: bytes 18 and 19, the
    # format's versions (sqlite.org/fileformat2.html, section 1.3.3).
    return raw[:18] + b"\x01\x01" + raw[20:]
