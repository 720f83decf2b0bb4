"""A fix as the record that programs are given."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from plumbstar.contract.answers.base import in_unit
from plumbstar.contract.answers.pointing import (
    FixReport,
    MisclosureReport,
    MovedReport,
    SightingInFixReport,
    SuspectReport,
    TermReport,
)
from plumbstar.mount.terms import TERMS, shown_in
from plumbstar.solve.fix import Fix
from plumbstar.solve.say import fix_notes


def fix_answer(fix: Fix) -> FixReport:
    """Everything by name: degrees, scales in percent; what the caller adds is left unset."""
    terms = {}
    for i, name in enumerate(TERMS):
        if fix.prior.sigma[i] == 0 and fix.mean[i] == 0:
            continue
        factor, unit = shown_in(name)
        values = in_unit(
            unit, value=float(fix.mean[i]) * factor, sigma=float(fix.sigma[i]) * factor
        )
        terms[name] = TermReport(from_data=float(fix.from_data[i]), **values)
    stars = [s.star for s in fix.sightings]
    return FixReport(
        terms=terms,
        rms_arcsec=fix.rms_arcsec,
        centring_arcmin=float(np.degrees(fix.noise.centring)) * 60.0,
        centring_from_data=fix.noise_from_data,
        misfit_probability=fix.misfit_probability,
        sightings=tuple(_sighting(fix, i) for i in range(len(stars))),
        misclosures=tuple(
            MisclosureReport(
                stars=(stars[m.first], stars[m.second]),
                true_deg=m.true_deg,
                misclosure_deg=m.misclosure_deg,
            )
            for m in fix.misclosures
        ),
        set_aside=tuple(stars[i] for i in fix.set_aside),
        suspects=tuple(SuspectReport(star=stars[i], probability=p) for i, p in fix.suspects),
        moved=_moved(fix),
        notes=fix_notes(fix),
        advice=tuple(f"{a}." for a in fix.advice),
    )


def _moved(fix: Fix) -> MovedReport | None:
    m = fix.moved
    if m is None:
        return None
    names = [s.star for s in fix.sightings]
    return MovedReport(
        between=(names[m.first - 1], names[m.first]),
        what=m.axes,
        by_deg=None if math.isnan(m.by_deg) else m.by_deg,
        probability=m.probability,
        sight_again=None if m.again is None else names[m.again],
    )


def _sighting(fix: Fix, i: int) -> SightingInFixReport:
    s = fix.sightings[i]
    across, up = (float(r) for r in np.degrees(fix.residuals[i]) * 3600.0)
    return SightingInFixReport(
        star=s.star,
        utc=s.utc.iso(1) if s.utc else None,
        true_az_deg=s.true_az_deg,
        true_alt_deg=s.true_alt_deg,
        az_reading_deg=s.az_reading_deg,
        alt_reading_deg=s.alt_reading_deg,
        residual_across_arcsec=across,
        residual_up_arcsec=up,
        residual_arcsec=float(np.hypot(across, up)),
        set_aside=i in fix.set_aside,
    )


def kept_body(fix: Fix, sentence: str) -> dict[str, object]:
    """A fix as the logbook keeps it: the record as plain values."""
    body: dict[str, object] = msgspec.to_builtins(
        msgspec.structs.replace(fix_answer(fix), sentence=sentence)
    )
    return body
