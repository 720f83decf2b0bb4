"""Answers about the logbook."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import Report
from plumbstar.contract.answers.sky import SiteReport
from plumbstar.contract.seen import HowSeen


class OutingReport(Report, frozen=True, kw_only=True):
    """An outing's heading; ``sightings`` and ``finds`` are how many it has."""

    outing: int
    uid: str
    site: SiteReport | None
    kit: str
    started_utc: str
    ended_utc: str | None
    solar_filter: bool
    sightings: int
    finds: int
    deleted: bool
    start_corrected_by_s: float


class LoggedSightingReport(Report, frozen=True, kw_only=True):
    """A sighting as kept; ``saved_utc`` is what was saved before its time was corrected."""

    sighting: int
    star: str
    typed: str
    utc: str | None
    az_reading_deg: float
    alt_reading_deg: float
    true_az_deg: float
    true_alt_deg: float
    az_count: int | None
    alt_count: int | None
    eyepiece: str
    origin: str
    active: bool
    reason: str
    deleted: bool
    corrected_by_s: float
    saved_utc: str | None


class LoggedFindReport(Report, frozen=True, kw_only=True):
    """A target found, or looked for in vain."""

    find: int
    target: str
    utc: str
    found: bool
    predicted_az_deg: float
    predicted_alt_deg: float
    found_az_deg: float | None
    found_alt_deg: float | None
    field_radius_deg: float
    eyepiece: str
    corrected_by_s: float


class LookReport(Report, frozen=True, kw_only=True):
    """A look: ``seen`` is clearly, faintly, barely, seen or not."""

    look: int
    outing: int
    target: str
    utc: str
    seen: HowSeen
    eyepiece: str
    words: str
    deleted: bool
    corrected_by_s: float


class SkyReport(Report, frozen=True, kw_only=True):
    """The sky as told: seeing and transparency 1 (best) to 5."""

    utc: str
    seeing: int | None
    transparency: int | None
    zenith_mag: float | None
    faintest_mag: float | None
    words: str


class NoteReport(Report, frozen=True, kw_only=True):
    utc: str
    text: str


class OutingsReport(Report, frozen=True, kw_only=True):
    logbook: str
    outings: tuple[OutingReport, ...]


class DisplayLineReport(Report, frozen=True, kw_only=True):
    """A tap beside a closed controller: ``event`` is upright, star, number, centred or missed;
    what was left to push is right and up positive. ``looked_deg``: of one not found, where the
    fields' middles were, from the controller's zero."""

    line: int
    utc: str
    event: str
    star: str
    number_deg: float | None
    left_az_deg: float | None
    left_alt_deg: float | None
    chosen: str
    looked_deg: tuple[tuple[float, float], ...]
    field_deg: float
    corrected_by_s: float


class NamelessStarReport(Report, frozen=True, kw_only=True):
    """A bright star that was centred and has no name yet; ``colour``: orange, white or empty."""

    utc: str
    az_reading_deg: float
    alt_reading_deg: float
    eyepiece: str
    colour: str


class WholeOutingReport(Report, frozen=True, kw_only=True):
    """An outing with all that is in it."""

    outing: OutingReport
    sightings: tuple[LoggedSightingReport, ...]
    nameless: tuple[NamelessStarReport, ...]
    finds: tuple[LoggedFindReport, ...]
    notes: tuple[NoteReport, ...]
    looks: tuple[LookReport, ...]
    sky: SkyReport | None
    sketches: int
    beside: tuple[DisplayLineReport, ...]
    kit_text: str


class ImportedReport(Report, frozen=True, kw_only=True):
    imported: tuple[OutingReport, ...]
    notes: tuple[str, ...]


class WhichReport(Report, frozen=True, kw_only=True):
    """An outing, or one sighting of it."""

    outing: int
    sighting: int | None


class DeletedReport(Report, frozen=True, kw_only=True):
    deleted: WhichReport


class RestoredReport(Report, frozen=True, kw_only=True):
    restored: WhichReport


class LogChangeReport(Report, frozen=True, kw_only=True):
    what: str
    at_utc: str
    outing: int | None


class UndoneReport(Report, frozen=True, kw_only=True):
    """What was undone or done again; null where there was nothing."""

    undo: LogChangeReport | msgspec.UnsetType | None = msgspec.UNSET
    redo: LogChangeReport | msgspec.UnsetType | None = msgspec.UNSET


class NotedReport(Report, frozen=True, kw_only=True):
    outing: int
    note: str


class CorrectedReport(Report, frozen=True, kw_only=True):
    """How many of each were corrected, and what the outing's fix says then."""

    outing: int
    corrected_by_s: float
    sightings: int
    finds: int
    notes: int
    #: Taps and numbers beside a closed controller.
    shown: int
    sentence: str


class CopiedReport(Report, frozen=True, kw_only=True):
    copied_to: str


class RecoveredReport(Report, frozen=True, kw_only=True):
    logbook: str
    copy: str | None
    damaged: str | None
    outings: int
    sightings: int
    added: dict[str, int]
    unread: tuple[str, ...]
    replaced: int
    lost: dict[str, int]
    damaged_copy: str | None


class SetAsideReport(Report, frozen=True, kw_only=True):
    kept: tuple[str, ...]


class PurgedReport(Report, frozen=True, kw_only=True):
    purged: dict[str, int]


class MendedReport(Report, frozen=True, kw_only=True):
    kit: str
    mend: str
    terms: tuple[str, ...]
    #: By how much what is under the stop was made thicker; null where that was not told.
    added_mm: float | None
