"""The observer's logbook: one SQLite file; docs/logbook.md says what is in it."""

from plumbstar.logbook.changes import Change, ChangeKind
from plumbstar.logbook.exchange import CSV_COLUMNS, sightings_to_csv
from plumbstar.logbook.kept import good_name, site_key
from plumbstar.logbook.opening import ENVIRONMENT, default_path, good_copy, path_of
from plumbstar.logbook.records import (
    Find,
    LogbookRefused,
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
from plumbstar.logbook.rescue import Recovered, keep_copy, recover
from plumbstar.logbook.store import Logbook

__all__ = [
    "CSV_COLUMNS",
    "ENVIRONMENT",
    "Change",
    "ChangeKind",
    "Find",
    "Logbook",
    "LogbookRefused",
    "LoggedFix",
    "LoggedSighting",
    "Mend",
    "NotSaved",
    "Note",
    "Origin",
    "Outing",
    "Recovered",
    "TimedBy",
    "clean",
    "default_path",
    "good_copy",
    "good_name",
    "keep_copy",
    "path_of",
    "recover",
    "short",
    "sightings_to_csv",
    "site_key",
    "to_nanosecond",
]
