"""What one number says, in words: the answer, and what to do next."""

from __future__ import annotations

import math

from plumbstar.controller.one import Judgement, NumberFinding
from plumbstar.controller.pair import higher
from plumbstar.text.words import chance

_BETTER = "Sight a pair at nearly opposite azimuths, 30 to 60 deg up"


def sentence(j: Judgement) -> str:
    """The answer."""
    stop = f"{j.stop_deg:+.2f} ± {j.stop_sigma_deg:.2f} deg"
    wrong_star = max(1.0 - j.right_stars - j.fumbled, 0.0)
    match j.finding:
        case NumberFinding.WRONG_STAR:
            w = j.wrong_stars[0]
            return (
                f"A wrong star explains this best ({chance(wrong_star)}): {w.star} instead of "
                f"{w.meant} would show {w.would_show_deg:+.1f} deg ({chance(w.probability)})."
            )
        case NumberFinding.SOMETHING_WRONG:
            return (
                f"Something went wrong this evening ({chance(1 - j.right_stars)}): "
                f"{j.rest_deg:+.1f} deg is more than a stop within reason shows with this pair. "
                f"A star fumbled or an encoder slipped: {chance(j.fumbled)}; "
                f"a wrong star: {chance(wrong_star)}."
            )
        case NumberFinding.BLIND:
            return (
                f"One number cannot decide here: {j.pair.star_a} and {j.pair.star_b} see only "
                f"{j.sensitivity:.2f} of the stop's offset, so this number says almost nothing "
                "about the stop."
            )
        case NumberFinding.CLOCK_UNKNOWN:
            return (
                "One number cannot decide until it is known whether the controller has a clock: "
                f"with this pair that alone is worth {math.degrees(abs(j.pair.drift)):.2f} deg. "
                f"As it stands, the stop is {stop}."
            )
        case NumberFinding.NOTHING:
            return (
                f"Nothing to mend on this evidence: {j.rest_deg:+.2f} deg is no more than your "
                f"centring leaves ({j.centring_sigma_deg:.2f} deg, 1 sigma). The stop: {stop}."
            )
        case NumberFinding.STOP:
            return (
                f"The stop explains it: altitude zero {stop}, so the tube at the stop points "
                f"{higher(math.radians(j.stop_deg))} than the circle says. Both stars right and "
                f"well centred: {chance(j.right_stars)}."
            )
        case NumberFinding.UNDECIDED:
            return (
                f"One number cannot decide: {' and '.join(_doubts(j))}. If the stars were right, "
                f"the stop is {stop}."
            )


def _doubts(j: Judgement) -> list[str]:
    out = []
    if j.right_stars <= 0.9:
        out.append(f"a star was perhaps wrong or fumbled ({chance(1 - j.right_stars)})")
    if abs(j.sensitivity) < 0.5 or j.stop_sigma_deg > 0.5 * j.stop_prior_sigma_deg:
        out.append("cone, squareness, centring and the stop all move this one number")
    return out


def next_step(j: Judgement) -> str:
    """What to do next."""
    match j.finding:
        case NumberFinding.WRONG_STAR:
            meant = j.wrong_stars[0].meant
            return f"Sight {meant} again and read the number anew before touching the stop"
        case NumberFinding.SOMETHING_WRONG:
            return "Set the stop and sight both stars again before touching anything"
        case NumberFinding.BLIND:
            return _BETTER
        case NumberFinding.CLOCK_UNKNOWN:
            return (
                "Say --clock or --no-clock; or sight both stars within half a minute, so that it "
                "does not matter"
            )
        case NumberFinding.NOTHING:
            return "Go observing; keep the number for the run of evenings"
        case NumberFinding.STOP:
            return "One evening is one evening: see the next number before cutting metal"
        case NumberFinding.UNDECIDED:
            return f"{_BETTER}, or give the numbers of several evenings as a file"
