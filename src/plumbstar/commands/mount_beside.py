"""What ``plumbstar mount`` answers beside a closed controller, which gives no readings."""

from __future__ import annotations

import math

from plumbstar.commands.mount_answer import pushes_answer
from plumbstar.contract.answers.mending import MountBesideReport
from plumbstar.controller.say import stop_words
from plumbstar.diagnose.nights import NOT_YET, taught_by_nights
from plumbstar.diagnose.score import Score
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, STOP
from plumbstar.text.words import many


def beside_answer(book: Logbook, kit: Kit, score: Score | None) -> MountBesideReport | None:
    """Where its nights have the stop, for the next one, and the promises; None without either."""
    taught = taught_by_nights(book, kit, Priors.from_kit(kit))
    if taught is None and score is None:
        return None
    nights, stop, sigma, said = 0, None, None, NOT_YET
    if taught is not None:
        known, nights = taught
        at, priors = INDEX[STOP], known.priors
        stop, sigma = (math.degrees(float(x[at])) for x in (priors.mean, priors.sigma))
        said = f"{many(nights, 'night')} beside the controller: {stop_words(stop, sigma)}"
    return MountBesideReport(
        kit=kit.name,
        nights=nights,
        sentence=said,
        stop_deg=stop,
        stop_sigma_deg=sigma,
        pushes=pushes_answer(score),
    )


def beside_lines(answer: MountBesideReport) -> list[str]:
    """The same for a terminal."""
    lines = [f"{answer.kit}: {answer.sentence}"]
    if answer.pushes is not None and answer.pushes.sentence:
        lines.append(answer.pushes.sentence)
    return lines
