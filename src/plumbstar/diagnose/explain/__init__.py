"""What went wrong with one outing, how sure, how to check it, and what to turn.

Each kind of cause has its file in :mod:`.causes`: rate, models of the sightings, words, check and
mend. :mod:`.forms` has the records, :mod:`.model` solves the models, :mod:`.judge` weighs them by
Laplace evidence, :mod:`.check` finds the star that would settle it, :mod:`.say` finds the words
about all of them. A newcomer's numbers are read by :mod:`.coach` and answered by :mod:`.reply`;
:mod:`.answer` is for JSON. docs/why.md has the method and what was measured.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain import say
from plumbstar.diagnose.explain.causes import FAULT_RATES, several
from plumbstar.diagnose.explain.causes.both import AND, Both
from plumbstar.diagnose.explain.causes.term import WideTerm
from plumbstar.diagnose.explain.check import TELLING, StarCheck, best_star
from plumbstar.diagnose.explain.forms import Form, Judged, Observations
from plumbstar.diagnose.explain.judge import judge
from plumbstar.diagnose.explain.measured import Measured, as_one, measured, named
from plumbstar.diagnose.explain.stars import SkyAtSightings
from plumbstar.diagnose.explain.unmoved import Unmoved, unmoved
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice
from plumbstar.text.words import many, upper_first

__all__ = ["FAULT_RATES", "Cause", "Explanation", "can_tell_from", "explain"]

#: A cause is named only when it is at least this probable (with two sightings), and this many times
#: as probable as the next.
_SURE, _SURE_OF_TWO, _ODDS = 0.6, 0.8, 4.0
#: So many causes are told in the first sentence at most.
_TOLD = 3


@dataclass(frozen=True)
class Cause:
    """One explanation: facts, and the words made of them.

    ``kind``: a name in :data:`FAULT_RATES`, or two. ``probability``: that it was this and nothing
    else; ``at_all``: that this happened, alone or beside something else; of "nothing" (and of a
    stop that is all that shows) that nothing else went wrong that shows. ``judged``: its best
    form, with what was solved for. ``star``: the star that would settle it against ``rival`` (a
    kind). ``advice`` goes with the mend. ``happened`` and ``try_next`` are for somebody who knows
    no terms.
    """

    kind: str
    probability: float
    at_all: float
    judged: Judged
    observations: Observations
    star: StarCheck | None
    rival: str
    title: str
    evidence: str
    check: str
    mend: str
    advice: Advice | None
    happened: str
    try_next: str


@dataclass(frozen=True)
class Explanation:
    """All causes with probabilities that sum to one: what can be named first, then the likeliest.

    ``verdict``: the answer in a sentence or two. ``can_tell``: whether the sightings name a cause.
    ``notes``: what was left out, and why. ``measured``: terms of the mount well away from zero,
    whatever the cause is called. ``unmoved``: two stars with one reading; then the verdict says so.
    """

    causes: tuple[Cause, ...]
    verdict: str
    can_tell: bool
    notes: tuple[str, ...] = ()
    measured: tuple[Measured, ...] = ()
    unmoved: Unmoved | None = None

    @property
    def also_measured(self) -> tuple[Measured, ...]:
        """Those that the cause named does not tell already."""
        named = _terms(self.causes[0].judged.form) if self.can_tell else ()
        return tuple(m for m in self.measured if m.off.terms not in named)


def _terms(form: Form) -> tuple[tuple[str, ...], ...]:
    """What a form says of terms of the mount."""
    if isinstance(form, Both):
        return _terms(form.first) + _terms(form.second)
    return (form.terms,) if isinstance(form, WideTerm) else ()


def _rivals(x: Judged, j: Judged) -> bool:
    """Whether a star may be sought that tells the two apart. "Several" foretells no reading; and
    whether a second thing hides behind a cause is not what its check is about."""
    return x.kind not in (j.kind, several.KIND) and j.kind not in x.kind.split(AND)


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
    still: Collection[int] = (),
    moved: Collection[int] = (),
    at_star: bool = True,
    fault_rates: Mapping[str, float] = FAULT_RATES,
) -> Explanation:
    """Weigh every cause of an outing's sightings.

    ``prior`` and ``noise`` as for :func:`plumbstar.solve.fix.solve`. With a ``site`` and the time
    of every sighting, wrong stars, clock and site are weighed too; without, they are left out and a
    note says so. ``kit`` gives words their numbers (ticks, lever arm). ``grain_deg`` (n, 2): the
    step to which each azimuth and altitude was rounded, beyond the kit's own. ``check_at``: when
    the next star would be sighted (five minutes after the last sighting by default).
    ``read_by_eye``: false where encoders gave every reading, which nobody can have misread.
    ``still``: indices of sightings just before which nothing moved, as the observer says; it is
    believed as far as the fix believes it; ``moved``: of those before which something did.
    ``at_star``: whether a star may be pointed at for a check: not by day, and none before two have
    told how the base stands after a knock. Raises :class:`UserError` for fewer than two sightings,
    or priors that settle too little.
    """
    if len(sightings) < 2:
        raise UserError(
            f"{many(len(sightings), 'sighting')}: two or more are needed to see whether they agree",
            "",
            "Sight another star, in another part of the sky",
        )
    sky = SkyAtSightings.of(sightings, site)
    o = Observations.of(sightings, prior, noise, sky, kit, grain_deg, read_by_eye, still, moved)
    try:
        judged: Sequence[Judged] = judge(o, fault_rates)
    except np.linalg.LinAlgError:
        raise UserError(
            "Causes cannot be weighed: for some terms of the mount nothing says what to expect",
            "",
            "Take the kit's priors, or add sightings",
        ) from None
    nothing = next((j for j in judged if j.kind == "nothing"), judged[0])
    seen = measured(o, judged)
    judged = as_one(o, judged, seen)
    lead = named(judged, seen, lambda p, rival: can_tell_from((p, rival), o.n))
    tell = lead is not None
    if lead is not None:
        judged = (lead, *(j for j in judged if j is not lead))
    causes = []
    for k, j in enumerate(judged):
        rival = next((x for x in judged if _rivals(x, j)), judged[0])
        # Far-fetched causes get no star: nobody would go out to test one in a thousand.
        worth_it = (j.probability > 1e-3 or k < 3) and j.kind != several.KIND
        star = best_star(o, j, rival, check_at) if worth_it and at_star else None
        causes.append(_cause(o, j, rival, star, nothing, at_star))
    first = causes[0]
    sigmas = first.star.sigmas if first.star is not None else 0.0
    by_hand = at_star and not tell and first.kind != several.KIND and sigmas < TELLING
    alike = unmoved(sightings)
    if alike is not None:
        verdict = alike.sentence([s.star for s in sightings], at_star)
    else:
        stars = (c.star for c in causes[:_TOLD] if c.star is not None)
        next_star = next((s for s in stars if s.sigmas >= TELLING), None)
        verdict = say.verdict(o, judged, tell, next_star, seen, at_star)
    return Explanation(tuple(causes), verdict, tell, say.notes(o, by_hand), seen, alike)


def _cause(
    o: Observations,
    j: Judged,
    rival: Judged,
    star: StarCheck | None,
    nothing: Judged,
    at_star: bool,
) -> Cause:
    return Cause(
        j.kind,
        j.probability,
        j.at_all,
        j,
        o,
        star,
        rival.kind,
        upper_first(j.form.title(o, j)),
        j.form.evidence(o, j, nothing),
        say.check(o, j, rival, star) if at_star else say.check_without_star(o, j),
        say.mend_of(o, j, at_star),
        j.form.advice(o, j),
        j.form.happened(o, j),
        j.form.try_next(o, j),
    )
