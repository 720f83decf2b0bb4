"""Entries in words and by name: one line for a person, one mapping for a program."""

from __future__ import annotations

from typing import Any

from plumbstar.logbook.records import Find, LoggedSighting, Outing, short
from plumbstar.text.words import many


def outing_dict(o: Outing) -> dict[str, Any]:
    """Its heading by name."""
    return {
        "outing": o.id,
        "uid": o.uid,
        "site": o.site,
        "kit": o.kit_name,
        "started": short(o.started),
        "ended": short(o.ended) if o.ended is not None else None,
        "solar_filter": o.solar_filter,
        "sightings": o.sighting_count,
        "finds": o.find_count,
        "deleted": o.deleted is not None,
        "start_corrected_by_s": o.start_corrected_by_s,
    }


def outing_line(o: Outing) -> str:
    """Its heading for a person."""
    where = (o.site.name or f"{o.site.lat_deg:g},{o.site.lon_deg:g}") if o.site else "no site"
    state = ", deleted" if o.deleted else "" if o.ended else ", in progress"
    return (
        f"{o.id:4d}  {o.started.iso()[:16].replace('T', ' ')}  {where}, "
        f"{o.kit_name or 'no kit'}: {many(o.sighting_count, 'sighting')}, "
        f"{many(o.find_count, 'find')}{state}"
    )


def sighting_dict(s: LoggedSighting) -> dict[str, Any]:
    """By name, degrees."""
    x = s.sighting
    return {
        "sighting": s.number,
        "star": x.star,
        "typed": s.typed,
        "utc": short(x.utc) if x.utc is not None else None,
        "az_reading_deg": x.az_reading_deg,
        "alt_reading_deg": x.alt_reading_deg,
        "true_az_deg": x.true_az_deg,
        "true_alt_deg": x.true_alt_deg,
        "az_count": s.az_count,
        "alt_count": s.alt_count,
        "eyepiece": x.eyepiece,
        "origin": s.origin,
        "active": s.active,
        "reason": s.reason,
        "deleted": s.deleted is not None,
        "corrected_by_s": s.corrected_by_s,
        "saved_utc": short(s.as_saved.utc) if s.as_saved and s.as_saved.utc else None,
    }


def signed_clock(seconds: float) -> str:
    """A difference of time for a person: ``+1:00:00``, ``-0:00:04.2``, with days if need be."""
    tenths = round(abs(seconds) * 10.0)
    whole, tenth = divmod(tenths, 10)
    days, rest = divmod(whole, 86400)
    head = f"{days} d " if days else ""
    tail = f".{tenth}" if tenth else ""
    clock = f"{rest // 3600}:{rest // 60 % 60:02d}:{rest % 60:02d}{tail}"
    return f"{'-' if seconds < 0 else '+'}{head}{clock}"


def _corrected(seconds: float) -> str:
    return f"; time corrected by {signed_clock(seconds)}" if seconds else ""


def sighting_line(s: LoggedSighting) -> str:
    """For a person."""
    x = s.sighting
    clock = x.utc.iso()[11:19] if x.utc is not None else "--:--:--"
    state = ", deleted" if s.deleted else "" if s.active else f", set aside: {s.reason}"
    return (
        f"{s.number:4d}  {clock}  {x.star or '(no name)'}: reading {x.az_reading_deg:.3f}, "
        f"{x.alt_reading_deg:.3f} deg; truly {x.true_az_deg:.3f}, {x.true_alt_deg:.3f}{state}"
        f"{_corrected(s.corrected_by_s)}"
    )


def find_dict(f: Find) -> dict[str, Any]:
    """By name, degrees."""
    return {
        "find": f.number,
        "target": f.target,
        "utc": short(f.utc),
        "found": f.found,
        "predicted_az_deg": f.predicted_az_deg,
        "predicted_alt_deg": f.predicted_alt_deg,
        "found_az_deg": f.found_az_deg,
        "found_alt_deg": f.found_alt_deg,
        "field_radius_deg": f.field_radius_deg,
        "eyepiece": f.eyepiece,
        "corrected_by_s": f.corrected_by_s,
    }


def find_line(f: Find) -> str:
    """For a person."""
    told = f"predicted {f.predicted_az_deg:.3f}, {f.predicted_alt_deg:.3f} deg"
    if f.found_az_deg is None or f.found_alt_deg is None:
        return f"{f.number:4d}  {f.utc.iso()[11:19]}  {f.target}: not found; {told}" + _corrected(
            f.corrected_by_s
        )
    at = f"found at {f.found_az_deg:.3f}, {f.found_alt_deg:.3f} deg"
    more = _corrected(f.corrected_by_s)
    return f"{f.number:4d}  {f.utc.iso()[11:19]}  {f.target}: {at}; {told}{more}"
