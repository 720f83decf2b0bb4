"""Why tonight's fix is what it is, what many outings say of the mount, and the mirrors' photograph.

Each job takes frozen things and runs on the thinking thread, since it may take a second.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Any

from plumbstar import collimate, history, learn, words
from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.explain import explain
from plumbstar.fix import Noise, Priors
from plumbstar.kit import Kit
from plumbstar.learn import Evidence
from plumbstar.logbook import Logbook
from plumbstar.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening import Evening
from plumbstar.web.picture import number


@dataclass(frozen=True)
class Case:
    """What an explanation depends on."""

    sightings: tuple[Sighting, ...]
    priors: Priors
    kit: Kit
    site: Site | None
    now: Instant
    sun_forbids: bool

    @property
    def key(self) -> tuple[Any, ...]:
        """The same for the same question: the answer is kept for it."""
        return (self.sightings, id(self.priors), self.kit, self.site, self.sun_forbids)


def case_of(e: Evening) -> Case:
    """Tonight's. While the Sun is up no star is named to be pointed at."""
    now = e.now()
    by_day = e.almanac is not None and e.almanac.now(now).up and not e.aim.filter_confirmed
    return Case(tuple(s.sighting for s in e.used), e.priors, e.kit, e.site, now, by_day)


def why(case: Case) -> dict[str, Any]:
    """Every cause with its probability, evidence, check and mend; the answer first."""
    if len(case.sightings) < 2:
        n = len(case.sightings)
        return {
            "sentence": f"{n} sighting{'s' if n != 1 else ''}: it takes two or more to contradict "
            "each other. Sight another star first.",
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
                "check": daylight if case.sun_forbids and "check" in c.detail else c.check,
                "mend": c.mend,
            }
            for c in found.causes
            if c.probability > 0.005
        ],
        "notes": list(found.notes),
    }


def gather(book: Logbook, kit: Kit) -> list[Evidence]:
    """What each outing with this kit, ended or not, says alone; solved anew from its sightings."""
    found = []
    for o in book.outings(kit=kit.name):
        sightings = [s.sighting for s in book.sightings(o.id, active=True)]
        if not sightings:
            continue
        try:
            then = kits.loads(o.kit_text) if o.kit_text else kit
        except UserError:
            then = kit  # a snapshot from an older program that today's rules refuse
        one = learn.evidence_from(sightings, then, o.id, o.started)
        if one is not None:
            found.append(one)
    return found


def mount_history(book: Logbook, kit: Kit, field_deg: float) -> dict[str, Any]:
    """The mount over its outings: the sentence, what to mend first, and term by term."""
    try:
        summary = history.summarise(
            gather(book, kit),
            Priors.from_kit(kit),
            Noise.from_kit(kit),
            field_deg,
            mends=[(m.utc, m.terms) for m in book.mends(kit.name)],
        )
    except UserError as e:
        return {"sentence": f"{e.came[:1].upper()}{e.came[1:]}. {e.remedy}.", "outings": 0}
    raw = summary.to_dict()
    return {
        "sentence": summary.sentence,
        "outings": summary.outings,
        "jobs": [
            {"sentence": j.what, "gain_in_hit_chance": number(j.gain, 3)} for j in summary.jobs
        ],
        "changes": [{"sentence": c.sentence} for c in summary.changes],
        "hit_chances": {k: number(v, 3) for k, v in raw["hit_chance"].items()},
        "terms": [
            {
                "label": words.TERM_WORDS[t.name][0],
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


def photograph(data: bytes, kit: Kit, options: dict[str, str]) -> dict[str, Any]:
    """Judge a picture of a defocused star; the circles found come back drawn in."""
    if not data:
        raise UserError("no picture", "a photograph", "Choose a picture")

    def asked(name: str, usual: float | None) -> float | None:
        text = options.get(name, "").strip().replace(",", ".")
        if not text:
            return usual
        try:
            return float(text)
        except ValueError:
            raise UserError(f"{name} '{text[:20]}'", "a number", "Type it again") from None

    image = collimate.load_photo(data)
    t = kit.telescope
    up = asked("up_clock", 12.0)
    result = collimate.judge(
        image,
        asked("focal_ratio", t.focal_length_mm / t.aperture_mm),
        defocus_mm=asked("defocus_mm", None),
        up_clock=12.0 if up is None else up,
        mirrored=options.get("mirrored", "") in ("1", "true", "yes"),
    )
    out: dict[str, Any] = {
        "sentence": result.verdict or result.reason,
        "turn": result.turn,
        "caveats": list(result.caveats),
        "can_judge": result.can_judge,
        "severity": result.severity,
        "offset_percent": number(100.0 * result.offset_fraction, 2),
        "offset_sigma_percent": number(100.0 * result.offset_sigma, 2),
        "clock_hours": number(result.clock, 1),
        "obstruction_percent": number(100.0 * result.obstruction, 1),
        "overlay": None,
    }
    if result.can_judge:
        drawn = io.BytesIO()
        collimate.overlay(image, result, 900).save(drawn, "JPEG", quality=80)
        out["overlay"] = "data:image/jpeg;base64," + base64.b64encode(drawn.getvalue()).decode()
    return out
