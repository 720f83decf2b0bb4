"""What undo would take back."""

from __future__ import annotations

from plumbstar.contract.picture import UndoRecord
from plumbstar.logbook.changes import Change, on_a_button, sentence_part


def undo_record(change: Change | None) -> UndoRecord | None:
    """In full, and short enough for a button; None where there is nothing."""
    if change is None:
        return None
    return UndoRecord(words=sentence_part(change), button=on_a_button(change))
