"""An explanation as JSON is given it."""

from __future__ import annotations

from plumbstar.contract.answers.base import in_unit
from plumbstar.contract.answers.mending import (
    CauseReport,
    Detail,
    MeasuredReport,
    StarToCheck,
    WhyReport,
)
from plumbstar.diagnose.explain import Cause, Explanation
from plumbstar.diagnose.explain.measured import Measured
from plumbstar.mount.terms import TERMS, shown_in


def report_of(e: Explanation) -> WhyReport:
    """All of it."""
    return WhyReport(
        verdict=e.verdict,
        can_tell=e.can_tell,
        causes=tuple(
            CauseReport(
                kind=c.kind,
                title=c.title,
                probability=c.probability,
                at_all=c.at_all,
                evidence=c.evidence,
                check=c.check,
                mend=c.mend,
                advice=f"{c.advice}." if c.advice is not None else "",
                detail=detail_of(c),
                star_check=_star_check(c),
            )
            for c in e.causes
        ),
        notes=e.notes,
        measured=tuple(_measured(m) for m in e.measured),
    )


def _measured(m: Measured) -> MeasuredReport:
    factor, unit = shown_in(m.off.terms[0])
    return MeasuredReport(
        terms=m.off.terms,
        **in_unit(unit, value=factor * m.off.size, sigma=factor * m.off.sigma),
        sentence=m.sentence,
        mend=m.mend,
        advice=f"{m.advice}." if m.advice is not None else "",
    )


def detail_of(c: Cause) -> dict[str, Detail]:
    """The particulars of a cause's best form, what was solved for with it."""
    o, j = c.observations, c.judged
    form = j.form
    out: dict[str, Detail] = {**form.facts()}
    if form.about is not None:
        out["sighted_as"] = o.star(form.about)
    if form.since is not None:
        out["between"] = (o.star(form.since), o.star(form.since + 1))
    out["share_of_kind"] = j.share
    out["log_evidence"] = j.log_evidence
    out["agree_arcmin"] = j.agree_deg() * 60.0
    out["terms_deg"] = {
        name: j.term_deg(name)[0]
        for i, name in enumerate(TERMS)
        if not name.endswith("_scale") and (o.prior.sigma[i] > 0 or j.mean[i] != 0)
    }
    out |= form.amounts_deg(j)
    return out


def _star_check(c: Cause) -> StarToCheck | None:
    star = c.star
    if star is None:
        return None
    return StarToCheck(
        star=star.star,
        utc=star.utc.iso() if star.utc is not None else None,
        rival=c.rival,
        reading_deg=star.this_deg,
        rival_reading_deg=star.rival_deg,
        apart_deg=star.apart_deg,
        sigmas=star.sigmas,
    )
