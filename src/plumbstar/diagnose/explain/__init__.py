"""What went wrong with one outing, how sure, how to check it, and what to turn.

Each kind of cause is a model of the sightings; :mod:`.hypotheses` writes the models, :mod:`.model`
solves them, :mod:`.judge` weighs them by Laplace evidence and the rates of :mod:`.rates`,
:mod:`.check` finds the star that would settle it, :mod:`.say` finds the words. A newcomer's numbers
are read by :mod:`.coach` and answered by :mod:`.reply`. docs/why.md has the method and what was
measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, is_dataclass
from typing import Any

import numpy as np

from plumbstar.diagnose.explain import say
from plumbstar.diagnose.explain.check import TELLING, StarCheck, best_star
from plumbstar.diagnose.explain.hypotheses import Outing
from plumbstar.diagnose.explain.judge import Judged, judge
from plumbstar.diagnose.explain.rates import FAULT_RATES
from plumbstar.diagnose.explain.stars import Heaven
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import N_TERMS, TERMS
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice
from plumbstar.text.words import in_hundred, many, upper_first

__all__ = ["FAULT_RATES", "Cause", "Explanation", "can_tell_from", "explain"]

#: A cause is named only when it is at least this probable (with two sightings), and this many times
#: as probable as the next.
_SURE, _SURE_OF_TWO, _ODDS = 0.6, 0.8, 4.0


@dataclass(frozen=True)
class Cause:
    """One explanation. ``kind`` is a key of :data:`FAULT_RATES`; ``detail`` holds its numbers:
    angles in degrees with the unit in the name, and the check as readings. ``advice`` goes with the
    mend."""

    kind: str
    title: str
    probability: float
    evidence: str
    check: str
    mend: str
    advice: Advice | None
    detail: Mapping[str, Any]


@dataclass(frozen=True)
class Explanation:
    """All causes, likeliest first, with probabilities that sum to one.

    ``verdict``: the answer in a sentence or two. ``can_tell``: whether the sightings name a cause.
    ``notes``: what was left out, and why.
    """

    causes: tuple[Cause, ...]
    verdict: str
    can_tell: bool
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "verdict": self.verdict,
            "can_tell": self.can_tell,
            "causes": [
                {
                    "kind": c.kind,
                    "title": c.title,
                    "probability": c.probability,
                    "evidence": c.evidence,
                    "check": c.check,
                    "mend": c.mend,
                    "advice": f"{c.advice}." if c.advice is not None else "",
                    "detail": dict(c.detail),
                }
                for c in self.causes
            ],
            "notes": list(self.notes),
        }


def can_tell_from(probabilities: Sequence[float], n: int) -> bool:
    """Whether probabilities, largest first, of causes of ``n`` sightings allow naming the first."""
    first = probabilities[0]
    second = probabilities[1] if len(probabilities) > 1 else 0.0
    return bool(first >= (_SURE if n > 2 else _SURE_OF_TWO) and first >= _ODDS * second)


def explain(
    sightings: Sequence[Sighting],
    prior: Priors,
    noise: Noise,
    *,
    site: Site | None = None,
    kit: Kit | None = None,
    grain_deg: Sequence[tuple[float, float]] | None = None,
    check_at: Instant | None = None,
    read_by_eye: bool = True,
    fault_rates: Mapping[str, float] = FAULT_RATES,
) -> Explanation:
    """Weigh every cause of an outing's sightings.

    ``prior`` and ``noise`` as for :func:`plumbstar.solve.fix.solve`. With a ``site`` and the time
    of every sighting, wrong stars, clock and site are weighed too; without, they are left out and a
    note says so. ``kit`` gives words their numbers (ticks, lever arm). ``grain_deg`` (n, 2): the
    step to which each azimuth and altitude was rounded, beyond the kit's own. ``check_at``: when
    the next star would be sighted (five minutes after the last sighting by default).
    ``read_by_eye``: false where encoders gave every reading, which nobody can have misread. Raises
    :class:`UserError` for fewer than two sightings, or priors that settle too little.
    """
    if len(sightings) < 2:
        raise UserError(
            many(len(sightings), "sighting"),
            "two or more, since one alone contradicts nothing",
            "Sight another star, toward another quarter of the sky",
        )
    heaven = Heaven.of(sightings, site)
    outing = Outing.of(sightings, prior, noise, heaven, kit, grain_deg, read_by_eye)
    try:
        judged = judge(outing, fault_rates)
    except np.linalg.LinAlgError:
        raise UserError(
            "priors that leave terms quite unknown",
            "a prior for every term but the azimuth zero, to weigh causes against",
            "Take the kit's priors, or add sightings",
        ) from None
    nothing = next((j for j in judged if j.kind == "nothing"), judged[0])
    causes = []
    for k, j in enumerate(judged):
        # "Several" foretells no reading, so it is no rival to test against.
        rival = next((x for x in judged if x is not j and x.kind != "several"), judged[0])
        # Far-fetched causes get no star: nobody would go out to test one in a thousand.
        worth_it = (j.probability > 1e-3 or k < 3) and j.kind != "several"
        star = best_star(outing, j, rival, check_at) if worth_it else None
        causes.append(_cause(outing, j, rival, star, nothing))
    tell = can_tell_from([c.probability for c in causes], outing.n)
    titles = [say.title(outing, j) for j in judged]
    star = causes[0].detail.get("check", {"sigmas": 0.0})
    by_hand = not tell and causes[0].kind != "several" and star["sigmas"] < TELLING
    notes = _notes(outing, heaven, by_hand)
    return Explanation(tuple(causes), _verdict(causes, titles, tell, outing), tell, notes)


def _cause(o: Outing, j: Judged, rival: Judged, star: StarCheck | None, nothing: Judged) -> Cause:
    detail: dict[str, Any] = {k: _plain(v) for k, v in j.best.detail.items() if k != "place"}
    if "sighting" in detail:
        detail["sighted_as"] = o.sightings[detail["sighting"]].star
    if "after" in detail:
        detail["between"] = [o.sightings[detail["after"] + i].star for i in (0, 1)]
    if isinstance(detail.get("axis"), int):
        detail["axis"] = ("azimuth", "altitude")[detail["axis"]]
    detail["share_of_kind"] = j.share
    detail["log_evidence"] = j.log_evidence
    detail["agree_arcmin"] = say.agree_deg(o, j) * 60.0
    detail["terms_deg"] = {
        name: say.term_deg(j, name)[0]
        for i, name in enumerate(TERMS)
        if not name.endswith("_scale") and (o.prior.sigma[i] > 0 or j.mean[i] != 0)
    }
    extras = [say.extra_deg(j, k) for k in range(3) if j.best.sigma[N_TERMS + k] > 0]
    if extras and j.kind in ("slip", "base_moved"):
        names = (
            ("amount_deg",) if j.kind == "slip" else ("turn_deg", "lean_north_deg", "lean_west_deg")
        )
        for name, (value, sigma) in zip(names, extras, strict=True):
            detail[name] = value
            detail[name.replace("_deg", "_sigma_deg")] = sigma
    if star is not None:
        detail["check"] = {
            "star": star.star,
            "utc": star.utc.iso() if star.utc is not None else None,
            "rival": rival.kind,
            "reading_deg": list(star.this_deg),
            "rival_reading_deg": list(star.rival_deg),
            "apart_deg": star.apart_deg,
            "sigmas": star.sigmas,
        }
    return Cause(
        j.kind,
        upper_first(say.title(o, j)),
        j.probability,
        say.evidence(o, j, nothing),
        say.check(o, j, rival, star),
        say.mend(o, j),
        say.advice(o, j),
        detail,
    )


def _plain(x: Any) -> Any:
    """Something JSON can hold."""
    if is_dataclass(x) and not isinstance(x, type):
        return asdict(x)
    if isinstance(x, np.ndarray | tuple | list):
        return [_plain(v) for v in x]
    return x.item() if isinstance(x, np.generic) else x


def _verdict(causes: Sequence[Cause], titles: Sequence[str], tell: bool, o: Outing) -> str:
    first = causes[0]
    if tell and first.kind == "several":
        return (
            f"No single cause on the list explains these sightings "
            f"({in_hundred(first.probability)}). {first.mend}"
        )
    if tell and first.kind == "nothing":
        return f"Nothing is wrong that these sightings show ({in_hundred(first.probability)})."
    if tell:
        return f"{first.title} ({in_hundred(first.probability)}). {first.mend}"
    # Causes come likeliest first, so the titles of the close ones are the first titles.
    close = [c for c in causes if c.probability > 0.1][:3] or [first]
    names = [f"{t} ({in_hundred(c.probability)})" for c, t in zip(close, titles, strict=False)]
    listed = " or ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
    few = " Two sightings hold little." if o.n == 2 else ""
    if first.kind == "nothing":
        others = " and ".join(names[1:]) or "other causes"
        return (
            f"Cannot tell for sure: nothing looks wrong ({in_hundred(first.probability)}), but "
            f"{others} cannot be ruled out.{few} {first.check}"
        )
    return f"Cannot tell yet: {listed}.{few} {first.check}"


def _notes(o: Outing, heaven: Heaven | None, by_hand: bool) -> tuple[str, ...]:
    notes = []
    if heaven is None:
        notes.append(
            "Wrong star, clock and site were left out: they need the site and the time of "
            "every sighting."
        )
    if o.n == 2:
        notes.append(
            "Two sightings give four numbers; a third star tells far more than a re-check."
        )
    if by_hand:
        notes.append("No star up now would tell the likeliest causes apart: check by hand.")
    return tuple(notes)
