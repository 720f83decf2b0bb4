"""Entries of the logbook as the records that programs are given."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plumbstar.commands.siting import site_answer
from plumbstar.contract.answers.book import (
    DisplayLineReport,
    LogChangeReport,
    LoggedFindReport,
    LoggedSightingReport,
    LookReport,
    NamelessStarReport,
    OutingReport,
    SkyReport,
)
from plumbstar.logbook import (
    Change,
    EveningSky,
    Find,
    LoggedLook,
    LoggedSighting,
    Outing,
    short,
)
from plumbstar.logbook.changes import sentence_part
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.sky.times import Instant

if TYPE_CHECKING:
    from plumbstar.web.evening.desk import NamelessPress  # loads catalogues


def outing_answer(o: Outing) -> OutingReport:
    """Its heading."""
    return OutingReport(
        outing=o.id,
        uid=o.uid,
        site=site_answer(o.site) if o.site is not None else None,
        kit=o.kit_name,
        started_utc=short(o.started),
        ended_utc=short(o.ended) if o.ended is not None else None,
        solar_filter=o.solar_filter,
        sightings=o.sighting_count,
        finds=o.find_count,
        deleted=o.deleted is not None,
        start_corrected_by_s=o.start_corrected_by_s,
    )


def nameless_answer(n: NamelessPress) -> NamelessStarReport:
    az, alt = n.reading.degrees()
    return NamelessStarReport(
        utc=short(Instant.from_unix(n.unix)),
        az_reading_deg=az,
        alt_reading_deg=alt,
        eyepiece=n.eyepiece,
        colour=n.colour,
    )


def nameless_line(n: NamelessStarReport) -> str:
    """For a person."""
    colour = {"orange": ", deep orange", "white": ", not orange"}.get(n.colour, "")
    return (
        f"      {n.utc[11:19]}  (no name yet{colour}): reading {n.az_reading_deg:.3f}, "
        f"{n.alt_reading_deg:.3f} deg"
    )


def sighting_answer(s: LoggedSighting) -> LoggedSightingReport:
    x = s.sighting
    return LoggedSightingReport(
        sighting=s.number,
        star=x.star,
        typed=s.typed,
        utc=short(x.utc) if x.utc is not None else None,
        az_reading_deg=x.az_reading_deg,
        alt_reading_deg=x.alt_reading_deg,
        true_az_deg=x.true_az_deg,
        true_alt_deg=x.true_alt_deg,
        az_count=s.az_count,
        alt_count=s.alt_count,
        eyepiece=x.eyepiece,
        origin=s.origin,
        active=s.active,
        reason=s.reason,
        deleted=s.deleted is not None,
        corrected_by_s=s.corrected_by_s,
        saved_utc=short(s.as_saved.utc) if s.as_saved and s.as_saved.utc else None,
    )


def find_answer(f: Find) -> LoggedFindReport:
    return LoggedFindReport(
        find=f.number,
        target=f.target,
        utc=short(f.utc),
        found=f.found,
        predicted_az_deg=f.predicted_az_deg,
        predicted_alt_deg=f.predicted_alt_deg,
        found_az_deg=f.found_az_deg,
        found_alt_deg=f.found_alt_deg,
        field_radius_deg=f.field_radius_deg,
        eyepiece=f.eyepiece,
        corrected_by_s=f.corrected_by_s,
    )


def look_answer(x: LoggedLook) -> LookReport:
    return LookReport(
        look=x.id,
        outing=x.outing_id,
        target=x.target,
        utc=short(x.utc),
        seen=x.seen,
        eyepiece=x.eyepiece,
        words=x.words,
        deleted=x.deleted is not None,
        corrected_by_s=x.corrected_by_s,
    )


def sky_answer(x: EveningSky) -> SkyReport:
    return SkyReport(
        utc=short(x.utc),
        seeing=x.seeing,
        transparency=x.transparency,
        zenith_mag=x.zenith_mag,
        faintest_mag=x.faintest_mag,
        words=x.words,
    )


def display_answer(line: int, e: DisplayEntry) -> DisplayLineReport:
    return DisplayLineReport(
        line=line,
        utc=short(e.utc),
        event=e.event,
        star=e.star,
        number_deg=e.number_deg,
        left_az_deg=e.left_az_deg,
        left_alt_deg=e.left_alt_deg,
        chosen=e.chosen,
        looked_deg=e.looked,
        field_deg=e.field_deg,
        corrected_by_s=e.corrected_by_s,
    )


def change_answer(c: Change | None) -> LogChangeReport | None:
    """A change that was undone or done again; None where there was nothing to."""
    if c is None:
        return None
    return LogChangeReport(what=sentence_part(c), at_utc=c.at.iso(), outing=c.outing_id)
