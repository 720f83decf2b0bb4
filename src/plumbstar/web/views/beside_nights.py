"""The stop over many nights beside a closed controller, and what to put under it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.contract.mending import MountAnswer, NightPoint, ShimsSaid, TermHistoryRecord
from plumbstar.controller.earlier import BetweenNights, learnt, mended
from plumbstar.controller.outlook import Asked, outlook
from plumbstar.controller.pair import STOP, sensitivities
from plumbstar.controller.say import stop_words
from plumbstar.diagnose import shims
from plumbstar.diagnose.nights import (
    NOT_YET,
    EarlierNight,
    earlier_nights,
    mends_since,
    tonight_after,
)
from plumbstar.diagnose.score import score_of, score_sentence
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import rounded
from plumbstar.web.views.stop_work import stop_work

#: Known so well, degrees, the next night starts with it; common practice, no source.
TRUSTED_DEG, PARTLY_DEG = 0.25, 0.6


@dataclass(frozen=True)
class Nights:
    """The question, frozen: it is answered on the thinking thread."""

    kit: Kit
    priors: Priors
    nights: tuple[EarlierNight, ...]
    field_deg: float
    book: Logbook
    since: tuple[BetweenNights, ...] = ()


def nights_of(e: Evening) -> Nights:
    """All alignments since the stop was last mended, tonight's among them."""
    priors = Priors.from_kit(e.kit)
    nights = earlier_nights(e.book, e.kit, priors, None)
    since = tuple(c for c in mends_since(e.book, e.kit, nights) if c.moved)
    return Nights(
        *(e.kit, priors, nights, e.instrument.field_deg, e.book, since),
    )


def mount_beside(q: Nights) -> MountAnswer:
    """The sentence, the pieces to add or take, and the stop night by night."""
    if not q.nights:
        return MountAnswer(
            sentence=NOT_YET,
            outings=0,
            pushes=score_sentence(score_of(q.book, q.kit)),
            stop_work=stop_work(q.book, q.kit, None),
        )
    alone = [(n.outing, *outlook(n.asked).stop()) for n in q.nights]
    last = tonight_after(q.nights[:-1], q.nights[-1].asked, q.nights[-1].mends)
    stop, sigma = (math.degrees(x) for x in outlook(last).stop())
    outings = len({n.outing for n in q.nights})
    said = stop_words(stop, sigma)
    advice = shims.advise(stop, sigma, q.kit, field_deg=q.field_deg)
    if q.since:  # nobody shims twice for the same nights
        stop, sigma = _after_mends(q, last)
        said = (
            f"Since the last mend the stop should be off by {stop:+.2f}° ± "
            f"{words.sigma_words(sigma)}°: the next night tells."
        ).replace("-", "−")
        advice = None
    return MountAnswer(
        sentence=f"{words.upper_first(words.many(outings, 'night'))}: {said}",
        outings=outings,
        pushes=score_sentence(score_of(q.book, q.kit)),
        shims=_shims(q, stop, advice),
        terms=(
            TermHistoryRecord(
                label=words.term("altitude_zero"),
                value_deg=rounded(stop, 3),
                sigma_deg=rounded(sigma, 3),
                value_percent=None,
                sigma_percent=None,
                trust=_trust(sigma),
                points=tuple(
                    NightPoint(
                        outing=n,
                        value=rounded(math.degrees(v), 3),
                        sigma=rounded(math.degrees(s), 3),
                    )
                    for n, v, s in alone
                ),
            ),
        ),
        stop_work=stop_work(q.book, q.kit, advice),
    )


def _after_mends(q: Nights, last: Asked) -> tuple[float, float]:
    """The stop and its sigma, degrees, as the mends since the last night leave it."""
    now = mended(learnt(outlook(last), q.priors), q.priors, q.since)
    i = INDEX["altitude_zero"]
    return math.degrees(now.mean[i]), math.degrees(now.sigma[i])


def _trust(sigma_deg: float) -> str:
    return "trusted" if sigma_deg < TRUSTED_DEG else "partly" if sigma_deg < PARTLY_DEG else "open"


def _shims(q: Nights, stop: float, advice: shims.StopAdvice | None) -> ShimsSaid | None:
    if advice is None:
        return None
    if advice.lacking is not None:
        return ShimsSaid(sentence=shims.lacking(advice.lacking.on_pages()), steps=())
    return ShimsSaid(sentence=advice.sentence, steps=(*advice.steps, _afterwards(q, stop)))


def _afterwards(q: Nights, stop: float) -> str:
    """What the number should be with the last pair, once the stop is mended."""
    asked = q.nights[-1].asked
    if asked.number is None:
        return ""
    sign = asked.sign or 1
    # The number sees the stop by this factor (docs/controller.md); the rest of it stays.
    seen = float(sensitivities(asked.taught.seen)[STOP])
    number = math.degrees(asked.number) - sign * seen * stop
    return (
        f"With the two stars of the last night the number should then be about {number:+.1f}°."
    ).replace("-", "−")
