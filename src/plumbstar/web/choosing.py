"""The choice of stars as a job beside the evening: takes frozen things, gives plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from plumbstar import choose
from plumbstar.choose import Candidate, StarSet
from plumbstar.errors import UserError
from plumbstar.fix import Fix, Noise, Priors
from plumbstar.sky import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.skyline import Skyline


@dataclass(frozen=True)
class Question:
    """All that the ranking depends on."""

    utc: Instant
    site: Site
    skyline: Skyline
    priors: Priors
    noise: Noise
    field_deg: float
    eyepiece: str


def _set(s: StarSet) -> dict[str, Any]:
    return {
        "stars": [c.star.label for c in s.stars],
        "mean_hit_chance": round(s.mean_hit_chance, 4),
        "trusted_stop_hit_chance": round(s.trusting_stop, 4),
        "cautions": list(s.cautions()),
        "push_deg": round(s.push_deg, 1),
    }


def _candidates(q: Question) -> tuple[Candidate, ...]:
    return choose.candidates(catalogue.load(), q.utc, q.site, skyline=q.skyline)


def rank(q: Question, show: int = 8) -> dict[str, Any]:
    """The best pairs and triples, and what common practice would take. For a worker thread.

    Never raises a user's error: too few stars is an answer, in the sentence.
    """
    out: dict[str, Any] = {"status": "ready", "asked_utc": q.utc.iso(), "pairs": [], "triples": []}
    try:
        stars = _candidates(q)
        found = [
            choose.choose(
                stars, q.utc, q.priors, q.noise, q.field_deg, size=n, skyline=q.skyline, show=show
            )
            for n in (2, 3)
            if len(stars) >= n
        ]
    except UserError as e:
        return out | {"recipe": None, "sentence": str(e), "visible": {}, "stars": []}
    pairs = found[0]
    out["pairs"] = [_set(s) for s in pairs.sets]
    out["triples"] = [_set(s) for s in found[1].sets] if len(found) > 1 else []
    recipe = pairs.common_practice
    out["recipe"] = _set(recipe) if recipe is not None else None
    out["visible"] = {c.star.label: c.visible_from.iso() if c.visible_from else None for c in stars}
    out["stars"] = [
        {
            "star": c.star.label,
            "az_deg": round(c.az_deg, 1),
            "alt_deg": round(c.alt_deg, 1),
            "v_mag": c.star.v_mag,
        }
        for c in stars[:30]
    ]
    best = pairs.best
    names = " and ".join(c.star.label for c in best.stars)
    sentence = f"{names}: {best.mean_hit_chance:.0%} of targets would be in the {q.eyepiece} field"
    if recipe is not None and recipe.stars != best.stars:
        usual = " and ".join(c.star.label for c in recipe.stars)
        sentence += f"; {usual}, the usual brightest pair, {recipe.mean_hit_chance:.0%}"
    out["sentence"] = sentence + "."
    return out


def next_star(q: Question, fix: Fix) -> dict[str, Any] | None:
    """The best next star and what it buys, or None where there is none."""
    try:
        found = choose.next_star(fix, _candidates(q), q.field_deg, skyline=q.skyline)
    except UserError:
        return None
    return {
        "star": found.candidate.star.label,
        "mean_hit_chance_now": round(found.now, 4),
        "mean_hit_chance_after": round(found.after, 4),
        "sentence": found.sentence,
    }
