"""The observer's logbook: one SQLite file; docs/logbook.md says what is in it."""

from plumbstar.logbook.as_csv import CSV_COLUMNS, sightings_to_csv
from plumbstar.logbook.changes import Change, ChangeKind
from plumbstar.logbook.connecting import default_path, good_copy, path_of
from plumbstar.logbook.contents import trouble_beside_copy
from plumbstar.logbook.copies import keep_copy, set_aside
from plumbstar.logbook.kept import good_name, site_key
from plumbstar.logbook.looks import EveningSky, LoggedLook, Sketch
from plumbstar.logbook.records import (
    Find,
    LoggedFix,
    LoggedSighting,
    Mend,
    Note,
    NotSaved,
    Origin,
    Outing,
    TimedBy,
    clean,
    short,
    to_nanosecond,
)
from plumbstar.logbook.rescue import Recovered, recover
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.trouble import ENVIRONMENT, LogbookRefused, LogbookTrouble, Trouble

__all__ = [
    "CSV_COLUMNS",
    "ENVIRONMENT",
    "Change",
    "ChangeKind",
    "EveningSky",
    "Find",
    "Logbook",
    "LogbookRefused",
    "LogbookTrouble",
    "LoggedFix",
    "LoggedLook",
    "LoggedSighting",
    "Mend",
    "NotSaved",
    "Note",
    "Origin",
    "Outing",
    "Recovered",
    "Sketch",
    "TimedBy",
    "Trouble",
    "clean",
    "default_path",
    "good_copy",
    "good_name",
    "keep_copy",
    "path_of",
    "recover",
    "set_aside",
    "short",
    "sightings_to_csv",
    "site_key",
    "to_nanosecond",
    "trouble_beside_copy",
]
