"""Whether anything has changed of what past outings with a kit are learnt from.

Reading entries back as records, solving none of them, took half of the time of a command that had
worked all out before. The rows as the file has them are read in a hundredth of that.
"""

from __future__ import annotations

import hashlib

import msgspec

from plumbstar.logbook.records import shifted, stamp
from plumbstar.logbook.store import Logbook
from plumbstar.sky.times import Instant

_OUTINGS = (
    "SELECT id, started, shift_s, kit_text, site, state FROM outings"
    " WHERE kit_name = ? AND deleted IS NULL ORDER BY id"
)
#: Whatever hangs on an outing and is learnt from.
_ENTRIES = tuple(
    f"SELECT e.outing_id, e.* FROM {table} e JOIN outings o ON o.id = e.outing_id"
    " WHERE o.kit_name = ? AND o.deleted IS NULL AND e.deleted IS NULL ORDER BY e.id"
    for table in ("sightings", "finds")
)
_MENDS = "SELECT * FROM mends WHERE kit_name = ? AND deleted IS NULL ORDER BY id"


def fingerprint(book: Logbook, kit_name: str, before: Instant | None = None) -> bytes:
    """The same as long as outings with that kit, what they hold, and its mends are the same; of the
    outings begun ``before`` only."""
    rows = book.file.rows(_OUTINGS, (kit_name,))
    if before is not None:
        at = stamp(before)
        # The file's text of a time is in the order of time, but for a start that was corrected.
        rows = [
            r for r in rows if (shifted(r[1], r[2]) < before if r[2] is not None else r[1] < at)
        ]
    ids = {r[0] for r in rows}
    entries = [[r for r in book.file.rows(asked, (kit_name,)) if r[0] in ids] for asked in _ENTRIES]
    told = msgspec.msgpack.encode((rows, entries, book.file.rows(_MENDS, (kit_name,))))
    return hashlib.blake2b(told, digest_size=16).digest()
