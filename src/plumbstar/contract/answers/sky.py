"""Answers about places, sites, what is up, and what is in the kit."""

from __future__ import annotations

from typing import Literal

import msgspec

from plumbstar.contract.answers.base import Report
from plumbstar.contract.answers.seen import OwnEyeReport


class SiteReport(Report, frozen=True, kw_only=True):
    """A site. ``skyline``: azimuth and altitude of its points, degrees."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    time_zone: str | None = None
    zenith_mag: float | None = None
    pressure_hpa: float | msgspec.UnsetType = msgspec.UNSET
    temperature_c: float | msgspec.UnsetType = msgspec.UNSET
    skyline: tuple[tuple[float, float], ...] | msgspec.UnsetType = msgspec.UNSET


class SitesReport(Report, frozen=True, kw_only=True):
    sites: tuple[SiteReport, ...]


class SiteRemovedReport(Report, frozen=True, kw_only=True):
    removed: SiteReport


class TownReport(Report, frozen=True, kw_only=True):
    name: str
    region: str
    country: str
    lat_deg: float
    lon_deg: float
    time_zone: str
    people: int


class TownsReport(Report, frozen=True, kw_only=True):
    towns: tuple[TownReport, ...]


class GpsReport(Report, frozen=True, kw_only=True):
    """What a satellite receiver said. ``week_turns``: by how many turns of the week count its date
    was put right."""

    lat_deg: float
    lon_deg: float
    elevation_m: float | None
    satellites: int | None
    utc: str
    computer_behind_s: float
    week_turns: int


class PlaceReport(Report, frozen=True, kw_only=True):
    """Where one thing stands, azimuth from north through east."""

    name: str
    label: str
    kind: str
    az_deg: float
    alt_deg: float
    v_mag: float | None
    below_horizon: bool
    designation: str | msgspec.UnsetType = msgspec.UNSET
    lit_fraction: float | msgspec.UnsetType = msgspec.UNSET


class PlacesReport(Report, frozen=True, kw_only=True):
    utc: str
    site: SiteReport
    airless: bool
    earth_table_ended: bool
    places: tuple[PlaceReport, ...]


class ProspectReport(Report, frozen=True, kw_only=True):
    """An object as it will be seen tonight. ``margin_mag``: by how much it beats the sky.

    ``second_eyepiece`` and ``filter`` are empty for none; ``company`` shares its field, and is one
    visit with it."""

    name: str
    label: str
    what: str
    difficulty: str
    chance: float
    margin_mag: float | None
    reason: str
    eyepiece: str
    second_eyepiece: str
    filter: str
    magnification: float
    minutes: float
    best_utc: str
    first_utc: str
    last_utc: str
    sets_utc: str | None
    company: tuple[str, ...]


class HelpReport(Report, frozen=True, kw_only=True):
    """What would help, and the chance with it."""

    what: str
    chance_seen: float


class SeenReport(Report, frozen=True, kw_only=True):
    """Whether one object can be seen tonight. ``word`` as in the list, or "not tonight".

    ``why_not`` is empty where the chance is good; ``eyepiece``, ``second_eyepiece`` and ``filter``
    for none. ``next_good_utc``: the best moment of the next night with a good chance.
    """

    name: str
    label: str
    what: str
    chance_seen: float
    word: str
    reason: str
    why_not: str
    eyepiece: str
    second_eyepiece: str
    filter: str
    magnification: float | None
    best_utc: str | None
    alt_deg: float | None
    next_good_utc: str | None
    next_good_chance: float | None
    helps: tuple[HelpReport, ...]


class TonightAskedReport(Report, frozen=True, kw_only=True):
    """A row for each object asked for, in that order."""

    own_eye: OwnEyeReport | None
    start_utc: str
    end_utc: str
    rows: tuple[SeenReport, ...]


class StopReport(Report, frozen=True, kw_only=True):
    """One stop of tonight's order; ``push_deg`` from the one before."""

    start_utc: str
    az_deg: float
    alt_deg: float
    push_deg: float
    note: str
    object: ProspectReport


class LeftOutReport(Report, frozen=True, kw_only=True):
    name: str
    why: str


class TonightReport(Report, frozen=True, kw_only=True):
    own_eye: OwnEyeReport | None
    start_utc: str
    end_utc: str
    moon_lit_fraction: float
    judged: int
    push_deg: float
    order: tuple[StopReport, ...]
    left_out: tuple[LeftOutReport, ...]
    objects: tuple[ProspectReport, ...]


class OwnObjectReport(Report, frozen=True, kw_only=True):
    """An object of the observer's own; ``surface_mag_arcsec2``: V magnitudes a square arcsecond."""

    name: str
    kind: str
    ra_deg: float
    dec_deg: float
    v_mag: float | None
    size_arcmin: float | None
    minor_arcmin: float | None
    position_angle_deg: float | None
    surface_mag_arcsec2: float | None


class OwnListReport(Report, frozen=True, kw_only=True):
    file: str
    objects: tuple[OwnObjectReport, ...]


class OwnAddedReport(Report, frozen=True, kw_only=True):
    file: str
    added: int
    replaced: int
    objects: int
    notes: tuple[str, ...]


class OwnRemovedReport(Report, frozen=True, kw_only=True):
    file: str
    removed: tuple[str, ...]
    objects: int


class OwnExportReport(Report, frozen=True, kw_only=True):
    """The list as a table: in ``csv``, or in the file it was written to."""

    objects: int
    csv: str | msgspec.UnsetType = msgspec.UNSET
    file: str | msgspec.UnsetType = msgspec.UNSET


class MinorBodyReport(Report, frozen=True, kw_only=True):
    """A comet or minor planet: ``v_mag`` now, with its usual ``doubt_mag``; ``age_days`` of its
    elements, which are good for ``epoch_utc``."""

    name: str
    kind: Literal["comet", "minor planet"]
    v_mag: float | None
    doubt_mag: float
    epoch_utc: str
    age_days: float
    old: Literal["fresh", "old", "too old"]


class OrbitsListReport(Report, frozen=True, kw_only=True):
    """What the folder's ``files`` hold; ``notes`` name each line that could not be read."""

    folder: str
    files: tuple[str, ...]
    bodies: tuple[MinorBodyReport, ...]
    notes: tuple[str, ...]


class OrbitsAddedReport(Report, frozen=True, kw_only=True):
    file: str
    bodies: int
    notes: tuple[str, ...]


class OrbitsRemovedReport(Report, frozen=True, kw_only=True):
    folder: str
    removed: tuple[str, ...]


class EyepieceReport(Report, frozen=True, kw_only=True):
    name: str
    true_field_deg: float
    magnification: float
    exit_pupil_mm: float


class KitReport(Report, frozen=True, kw_only=True):
    name: str
    focal_ratio: float
    eyepieces: tuple[EyepieceReport, ...]
    azimuth_step_deg: float
    altitude_step_deg: float


class WrittenReport(Report, frozen=True, kw_only=True):
    """A file that was written."""

    written: str
