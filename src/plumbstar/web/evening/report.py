"""One evening as one file for a maintainer: what a fix is made of, without the place unless agreed.

The place is left out so that the fix stays whole: directions are kept as they were in the local
frame (azimuth and altitude), times as seconds since the first sighting, and stars as numbers. With
its name or the time of day a star's direction would tell where the telescope stands. To the last
digit its angles to other stars tell the time too, by the aberration of light (20 arcsec, turning
once a year: a third of an arcsec a day), so directions are rounded; the fix is solved from those.
What remains, said in the file too: the angles between bright stars may be recognised, and then the
heights above the horizon tell the latitude; and a body of the solar system tells the time by its
place among them, so the longitude.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, NamedTuple

import msgspec
import numpy as np

from plumbstar import __version__
from plumbstar import kit as kits
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, LoggedSighting
from plumbstar.logbook.slips import DESK, cuts, doubted, slips_in, still
from plumbstar.mount.priors import MayHaveChanged, Noise, OneOf, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Axis
from plumbstar.mount.terms import TERMS
from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup
from plumbstar.solve.epochs import solve_parts
from plumbstar.solve.fix import Fix
from plumbstar.web.evening.desk import Miss
from plumbstar.web.evening.desk import load as load_desk
from plumbstar.web.evening.since import counted_since, pushes, unseen_deg
from plumbstar.web.evening.solved import EveningFix

FORMAT = "plumbstar evening report 1"
ALWAYS = (
    "for each sighting: where the star stood (azimuth, altitude), what the circles showed, the raw "
    "counts, the seconds since the first one, whether it was set aside",
    "where something moved or may have moved among the sightings, what was looked for in vain, and "
    "how often and how far the tube was pushed since the last one",
    "of the telescope: its terms believed beforehand, its centring and reading errors, the field, "
    "ticks a turn and kind of connection",
    "the fix as it was solved: means and covariance",
    "the program's version",
)
PLACE = "the site's coordinates, the date and times, and the names of the stars"
NAMES = "the names of site, telescope and eyepieces, your notes, and your reasons"
#: Directions are kept to this, degrees: 36 arcsec, more than aberration moves any star, and far
#: below the hand's error. The time by them is then worse than a day, and tells no longitude.
KEPT_TO = 2
MOVING = (
    "the angles between the stars may be recognised; their heights then tell the latitude, and as "
    "a body of the solar system was sighted its place among the stars tells date and time, roughly "
    "or well, and so where you are: do not send this file if that is to stay unknown"
)
RECOGNISED = (
    "the angles between the stars may be recognised; their heights then tell the latitude, but "
    "without date and time not the longitude"
)


class ReportedPlace(msgspec.Struct, frozen=True):
    """Only where it was agreed to."""

    lat_deg: float
    lon_deg: float
    elevation_m: float
    first_utc: str


class ReportedSighting(msgspec.Struct, frozen=True):
    """Degrees and seconds; ``after_s`` since the first."""

    star: str
    after_s: float | None
    true_az_deg: float
    true_alt_deg: float
    az_reading_deg: float
    alt_reading_deg: float
    az_count: int | None
    alt_count: int | None
    origin: str
    used: bool
    reason: str = ""


class ReportedMiss(msgspec.Struct, frozen=True):
    """Looked for and not in the field: where the fix had put it, degrees. ``push``: in which push
    since the last sighting."""

    az_deg: float
    alt_deg: float
    field_deg: float
    push: int = 1


class ReportedSince(msgspec.Struct, frozen=True):
    """Since the last sighting, none of it checked by a star: ``pushes`` with the next one counted
    in, and how far the tube went in steps that could hide a jump of the count."""

    pushes: Annotated[int, msgspec.Meta(ge=1, le=1_000_000)] = 1
    unseen_deg: Annotated[float, msgspec.Meta(ge=0.0)] = 0.0


class ReportedTelescope(msgspec.Struct, frozen=True):
    """Radians where it says so; ``prior_sigma_rad`` None stands for unknown."""

    connection: str
    pushed: bool
    interval_ms: int
    ticks_per_turn: tuple[int, int]
    reversed: tuple[bool, bool]
    field_deg: float
    prior_mean_rad: tuple[float, ...]
    prior_sigma_rad: tuple[float | None, ...]
    centring_rad: float
    reading_rad: tuple[float, float]
    centring_sigma_log: float = 0.0
    prior_changed: tuple[tuple[int, float, float], ...] = ()
    prior_one_of: tuple[tuple[int, float, float, float], ...] = ()


class ReportedFix(msgspec.Struct, frozen=True):
    """Terms in the order of ``terms``, radians; scales plain."""

    terms: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]


class EveningReport(msgspec.Struct, frozen=True):
    """The file. ``contains`` and ``left_out`` say in words what is in it."""

    format: str
    version: str
    contains: tuple[str, ...]
    left_out: tuple[str, ...]
    sightings: tuple[ReportedSighting, ...]
    moves: tuple[tuple[int, tuple[Axis, ...]], ...]
    misses: tuple[ReportedMiss, ...]
    telescope: ReportedTelescope
    fix: ReportedFix | None
    place: ReportedPlace | None = None
    names: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    still: tuple[int, ...] = ()
    """Which of the used sightings are said to have been made just after nothing moved, ..."""
    doubted: tuple[int, ...] = ()
    """... and which were asked about, and answered with yes: the first is 0."""
    since: ReportedSince = ReportedSince()
    """Older reports do not tell, and are read as of the first push after the last sighting."""


class SolvedReport(NamedTuple):
    """``same``: the fix is the one that the report carries, to the last digit. ``still``: the
    probability that nothing will have moved when the next object is reached; every chance that the
    page stated had it."""

    fix: Fix | None
    same: bool
    still: float


def make_report(
    book: Logbook, outing_id: int, *, place: bool = False, names: bool = False
) -> EveningReport:
    """Of one outing. ``place`` and ``names``: whether those may be told. Raises UserError."""
    o = book.outing(outing_id)
    kit = kits.loads(o.kit_text) if o.kit_text else kits.Kit()
    every = book.sightings(outing_id)
    used = [s for s in every if s.active]
    slips, ids = slips_in(book.state(outing_id)), [s.id for s in used]
    moved, known = cuts(slips, ids), (tuple(still(slips, ids)), tuple(doubted(slips, ids)))
    desk = load_desk(book.state(outing_id).get(DESK))
    basis = tuple(s.id for s in used)
    misses = tuple(
        ReportedMiss(m.az_deg, m.alt_deg, m.field_deg, m.push)
        for m in desk.misses
        if m.basis == basis
    )
    counted = counted_since(desk.pushes, ids)
    learnt = learnt_priors(book, kit, o.started)
    priors, noise = learnt.priors, learnt.noise(kit)
    chosen = [e for e in kit.eyepiece if e.name == desk.eyepiece]
    eyepiece = chosen[0] if chosen else kit.finder_eyepiece()
    if not place:
        misses = tuple(
            ReportedMiss(_kept_to(m.az_deg), _kept_to(m.alt_deg), m.field_deg, m.push)
            for m in misses
        )
        every = tuple(replace(s, sighting=_rounded(s.sighting)) for s in every)
        used = [s for s in every if s.active]
    recognised = MOVING if any(_moves(s.sighting.star) for s in every) else RECOGNISED
    fix = _solve([s.sighting for s in used], moved, known, misses, priors, noise).fix
    first = next((s.sighting.utc for s in every if s.sighting.utc is not None), None)
    notes = tuple(n.text for n in book.notes(outing_id))
    site = o.site
    return EveningReport(
        format=FORMAT,
        version=__version__,
        contains=(*ALWAYS, *((PLACE,) if place else ()), *((NAMES,) if names else ())),
        left_out=(
            *(() if place else (f"{PLACE} (yet {recognised})",)),
            *(() if names else (NAMES,)),
        ),
        sightings=tuple(
            _sighting(k, s, first.to_unix() if first else None, place, names)
            for k, s in enumerate(every, 1)
        ),
        moves=tuple((n, tuple(axes)) for n, axes in moved),
        misses=misses,
        telescope=ReportedTelescope(
            kit.connection.kind,
            kit.connection.pushed,
            kit.connection.interval_ms,
            (kit.azimuth.ticks_per_turn, kit.altitude.ticks_per_turn),
            (kit.azimuth.reversed, kit.altitude.reversed),
            kit.true_field_deg(eyepiece),
            tuple(priors.mean.tolist()),
            tuple(None if np.isinf(s) else float(s) for s in priors.sigma),
            noise.centring,
            (noise.reading_az, noise.reading_alt),
            noise.spread,
            priors.changed,
            priors.one_of,
        ),
        fix=_kept(fix),
        place=ReportedPlace(site.lat_deg, site.lon_deg, site.elevation_m, first.iso())
        if place and site is not None and first is not None
        else None,
        names=(site.name if site else "", kit.name, *(e.name for e in kit.eyepiece))
        if names
        else (),
        notes=notes if names else (),
        still=known[0],
        doubted=known[1],
        since=ReportedSince(pushes(counted, ""), round(unseen_deg(counted), 1)),
    )


def _kept_to(deg: float) -> float:
    return round(deg, KEPT_TO)


def _rounded(s: Sighting) -> Sighting:
    return replace(s, true_az_deg=_kept_to(s.true_az_deg), true_alt_deg=_kept_to(s.true_alt_deg))


def _moves(name: str) -> bool:
    """Whether what is so called moves among the stars, or may: nobody knows it any more."""
    try:
        return isinstance(lookup.find_target(name), Body)
    except UserError:
        return True


def _sighting(
    number: int, s: LoggedSighting, first_unix: float | None, place: bool, names: bool
) -> ReportedSighting:
    f = s.sighting
    known = f.utc is not None and first_unix is not None
    return ReportedSighting(
        star=f.star if place else f"star {number}",
        after_s=round(f.utc.to_unix() - first_unix, 1) if known and f.utc and first_unix else None,
        true_az_deg=f.true_az_deg,
        true_alt_deg=f.true_alt_deg,
        az_reading_deg=f.az_reading_deg,
        alt_reading_deg=f.alt_reading_deg,
        az_count=s.az_count,
        alt_count=s.alt_count,
        origin=s.origin,
        used=s.active,
        reason=s.reason if names else "",
    )


def _solve(
    used: Sequence[Sighting],
    moves: Sequence[tuple[int, tuple[Axis, ...]]],
    known: tuple[Sequence[int], Sequence[int]],
    misses: Sequence[ReportedMiss],
    priors: Priors,
    noise: Noise,
) -> EveningFix:
    """As the pages solve it."""
    parts = solve_parts(used, priors, noise, moves, *known) if used else ()
    looked = [Miss("", (), "", m.az_deg, m.alt_deg, m.field_deg, m.push) for m in misses]
    return EveningFix((), parts, looked)


def _kept(fix: Fix | None) -> ReportedFix | None:
    if fix is None:
        return None
    rows = tuple(tuple(row) for row in fix.covariance.tolist())
    return ReportedFix(TERMS, tuple(fix.mean.tolist()), rows)


def read_report(text: str) -> EveningReport:
    """From the file's text. Raises UserError."""
    try:
        report = msgspec.json.decode(text, type=EveningReport)
    except msgspec.MsgspecError as e:
        raise UserError(
            f"the report ({e})", f"a file of '{FORMAT}'", "Check that this is the file, and whole"
        ) from None
    n = len(TERMS)
    t = report.telescope
    if report.format != FORMAT or {len(t.prior_mean_rad), len(t.prior_sigma_rad)} != {n}:
        raise UserError(
            f"a report '{report.format}'", f"'{FORMAT}'", "Use the version that made it"
        )
    return report


def solve_report(report: EveningReport) -> SolvedReport:
    """Its fix solved anew, from nothing but what stands in the file."""
    t = report.telescope
    priors = Priors(
        np.array(t.prior_mean_rad),
        np.array([np.inf if s is None else s for s in t.prior_sigma_rad]),
        tuple(MayHaveChanged(*c) for c in t.prior_changed),
        tuple(OneOf(*c) for c in t.prior_one_of),
    )
    used = [
        Sighting(s.star, s.true_az_deg, s.true_alt_deg, s.az_reading_deg, s.alt_reading_deg)
        for s in report.sightings
        if s.used
    ]
    noise = Noise(t.centring_rad, *t.reading_rad, t.centring_sigma_log)
    known = report.still, report.doubted
    solved = _solve(used, report.moves, known, report.misses, priors, noise)
    still = solved.still_chance(report.since.pushes, report.since.unseen_deg)
    return SolvedReport(solved.fix, _kept(solved.fix) == report.fix, still)


def report_text(report: EveningReport) -> str:
    """As it is written: JSON, laid out to be read before it is sent."""
    return msgspec.json.format(msgspec.json.encode(report), indent=1).decode() + "\n"
