"""Why tonight's fix is what it is, what many outings say of the mount, and the mirrors' photograph.

Each job takes frozen things and runs on the thinking thread, since it may take a second.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from typing import Any, TypeVar

from plumbstar import collimate
from plumbstar.diagnose import checks as bench
from plumbstar.diagnose import history, shims
from plumbstar.diagnose.checks.check import SUN_FIRST, Input
from plumbstar.diagnose.explain import explain
from plumbstar.diagnose.teach import evidence_of
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.figures import figures
from plumbstar.web.views.picture import number

T = TypeVar("T", float, None)


@dataclass(frozen=True)
class Case:
    """What an explanation depends on."""

    sightings: tuple[Sighting, ...]
    priors: Priors
    kit: Kit
    site: Site | None
    now: Instant
    sun_forbids: bool
    read_by_eye: bool

    @property
    def key(self) -> tuple[Any, ...]:
        """The same for the same question: the answer is kept for it."""
        how = (self.sun_forbids, self.read_by_eye)
        return (self.sightings, self.priors.key, self.kit, self.site, *how)


def case_of(e: Evening) -> Case:
    """Tonight's. While the Sun is up no star is named to be pointed at."""
    now = e.now()
    almanac, confirmed = e.ground.almanac, e.guidance.aim.filter_confirmed
    by_day = almanac is not None and almanac.now(now).up and not confirmed
    by_eye = e.kit.connection.kind == "typed" or any(s.origin == "typed" for s in e.sightings.used)
    used = tuple(s.sighting for s in e.sightings.used)
    return Case(used, e.instrument.priors, e.kit, e.site, now, by_day, by_eye)


def why(case: Case) -> dict[str, Any]:
    """Every cause with its probability, evidence, check and mend; the answer first."""
    if len(case.sightings) < 2:
        n = len(case.sightings)
        return {
            "sentence": f"{words.many(n, 'sighting')}: two or more are needed to see "
            f"whether they agree. Sight {'another' if n else 'a'} star first.",
            "explanations": [],
            "notes": [],
        }
    found = explain(
        case.sightings,
        case.priors,
        Noise.from_kit(case.kit),
        site=case.site,
        kit=case.kit,
        check_at=case.now,
        read_by_eye=case.read_by_eye,
    )
    daylight = "By day no star is named: wait until the Sun is down."
    return {
        "sentence": daylight if case.sun_forbids and not found.can_tell else found.verdict,
        "explanations": [
            {
                "name": c.kind,
                "sentence": c.title,
                "probability": number(c.probability, 4),
                "evidence": c.evidence,
                "check": daylight if case.sun_forbids and c.star is not None else c.check,
                "mend": c.mend if c.advice is None else f"{c.mend} {c.advice.on_pages()}.",
            }
            for c in found.causes
            if c.probability > 0.005
        ],
        "notes": list(found.notes),
    }


def mount_history(book: Logbook, kit: Kit, field_deg: float) -> dict[str, Any]:
    """The mount over its outings: the sentence, what to mend first, and term by term."""
    try:
        said, left_out = evidence_of(book, kit)
        summary = history.summarise(
            said,
            Priors.from_kit(kit),
            Noise.from_kit(kit),
            field_deg,
            mends=[(m.utc, m.terms) for m in book.mends(kit.name)],
        )
    except UserError as e:
        return {"sentence": f"{words.upper_first(e.came)}. {e.remedy_on_pages}.", "outings": 0}
    advice = shims.advise_from(summary, kit)
    return {
        "sentence": summary.sentence,
        "outings": summary.outings,
        "jobs": [
            {
                "sentence": j.what if j.advice is None else f"{j.what}: {j.advice.on_pages()}",
                "gain_in_hit_chance": number(j.gain, 3),
                "gained": _gained(j),
                "gain_two_stars": number(j.gain_two_stars, 3),
            }
            for j in summary.jobs
        ],
        "changes": [{"sentence": c.sentence} for c in summary.changes],
        "shims": advice and {"sentence": advice.sentence, "steps": list(advice.steps)},
        "left_out": [
            f"Outing {n} is left out: its sightings contradict one another." for n in left_out
        ],
        "hit_chances": {
            "one_star": number(summary.chance_one_star, 3),
            "two_stars": number(summary.chance_two_stars, 3),
            "trusting_stop": number(summary.chance_trusting, 3),
        },
        "terms": [
            {
                "label": words.term(t.name),
                f"now_{t.unit}": number(t.now, 3),
                f"give_or_take_{t.unit}": number(t.now_sigma, 3),
                "trust": t.trust,
                "points": [
                    [p.outing_id, number(p.value, 3), number(p.sigma, 3)]
                    for p in t.points
                    if p.tells
                ],
            }
            for t in summary.terms
        ],
    }


def _gained(job: history.Job) -> str:
    """For whom the job's gain is largest: after "one" star, after "two", or "trusting" the stop."""
    gains = {
        "one": job.gain_one_star,
        "two": job.gain_two_stars,
        "trusting": job.gain_trusting,
    }
    return max(gains, key=lambda k: gains[k])


def checks() -> dict[str, Any]:
    """The guided checks, as the pages take them."""

    def one(i: Input) -> dict[str, Any]:
        kind = "numbers" if i.many else "text" if i.text else "number"
        out = {"name": i.key, "label": i.label, "unit": i.unit, "kind": kind, "default": i.default}
        return {**out, "choices": list(i.choices)} if i.choices else out

    return {
        "sentence": SUN_FIRST,
        "checks": [
            {
                "id": c.id,
                "title": c.title,
                "why": c.why,
                "needs": list(c.needs),
                "warning": c.warning,
                "steps": list(c.steps),
                "inputs": [one(i) for i in c.inputs],
            }
            for c in bench.CHECKS
        ],
    }


def judge_check(check_id: str, inputs: dict[str, Any], kit: Kit) -> dict[str, Any]:
    """What the numbers written down mean. Raises UserError for what is missing or odd."""
    verdict = bench.find(check_id).run({k: v for k, v in inputs.items() if v is not None}, kit)
    return {
        "state": verdict.state,
        "sentence": verdict.sentence,
        "mend": verdict.mend,
        "numbers": [figures(n) for n in verdict.numbers],
    }


def photograph(data: bytes, kit: Kit, options: dict[str, str]) -> dict[str, Any]:
    """Judge a picture of a defocused star; the circles found come back drawn in.

    With ``first=N`` among the options the body holds two pictures, the first N bytes long: racked
    out and racked in. Together they part coma from what else moves the shadow.
    """
    if not data:
        raise UserError("No picture came", "", "Choose a picture")

    def asked(name: str, usual: T) -> float | T:
        text = options.get(name, "").strip().replace(",", ".")
        if not text:
            return usual
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise UserError(f"{name} '{text[:20]}'", "a number", "Type it again")
        return value

    cut = int(asked("first", len(data)))
    if not 0 < cut <= len(data):
        raise UserError("The two pictures did not arrive whole", "", "Choose them again")

    def judged(image: Any) -> collimate.Collimation:
        return collimate.judge(
            image,
            asked("focal_ratio", kit.telescope.focal_ratio),
            defocus_mm=asked("defocus_mm", None),
            up_clock=asked("up_clock", 12.0),
            mirrored=options.get("mirrored", "") in ("1", "true", "yes"),
        )

    image = collimate.load_photo(data[:cut])
    result = judged(image)
    if cut < len(data):
        result = collimate.combine(result, judged(collimate.load_photo(data[cut:])))
    off = result.can_judge and result.severity != "centred"
    out: dict[str, Any] = {
        "sentence": result.verdict or result.reason,
        "turn": result.turn,
        "caveats": [*result.caveats, *(f"{a.on_pages()}." for a in collimate.advice(result))],
        "can_judge": result.can_judge,
        "sides": result.sides,
        "severity": result.severity,
        "offset_percent": number(100.0 * result.offset_fraction, 2),
        "offset_sigma_percent": number(100.0 * result.offset_sigma, 2),
        "clock_hours": number(result.clock, 1),
        "seen_clock_hours": number(result.seen_clock, 1),
        "seen": collimate.clock_words(result.seen_clock) if off else "",
        "obstruction_percent": number(100.0 * result.obstruction, 1),
        "overlay": None,
    }
    if result.can_judge:
        drawn = io.BytesIO()
        collimate.overlay(image, result, 900).save(drawn, "JPEG", quality=80)
        out["overlay"] = "data:image/jpeg;base64," + base64.b64encode(drawn.getvalue()).decode()
    return out
