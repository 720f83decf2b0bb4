"""What one number says, a run of evenings, a known change under the stop, in words."""

from __future__ import annotations

import math
from typing import NamedTuple

from plumbstar.controller.many import Combined, RunFinding
from plumbstar.controller.one import Judgement, NumberFinding, Part
from plumbstar.controller.pair import BLIND, SIGNS
from plumbstar.controller.rules import QuickRule, Rule, SmallNumberRule
from plumbstar.controller.sign import SignLearnt
from plumbstar.text.words import chance, sigma_words, term

_BETTER = "Sight a pair at nearly opposite azimuths, 30 to 60° up"


def stop_words(stop_deg: float, sigma_deg: float) -> str:
    """Where the upright stop is, degrees, as far as it is known."""
    way = "higher" if stop_deg > 0 else "lower"
    if abs(stop_deg) < sigma_deg:
        return f"The stop may be true, to within {abs(stop_deg) + sigma_deg:.1f}°."
    return (
        f"At the stop the tube points about {abs(stop_deg):.1f}° (± {sigma_deg:.1f}°) {way} than "
        "the controller takes it to."
    )


def sentence(j: Judgement) -> str:
    """The answer."""
    stop = f"{j.stop_deg:+.2f} ± {sigma_words(j.stop_sigma_deg)}°"
    wrong_star = max(1.0 - j.right_stars - j.fumbled, 0.0)
    match j.finding:
        case NumberFinding.WRONG_STAR:
            w = j.wrong_stars[0]
            return (
                f"A wrong star explains this best ({chance(wrong_star)}): {w.star} instead of "
                f"{w.meant} would show {w.would_show_deg:+.1f}° ({chance(w.probability)})."
            )
        case NumberFinding.SOMETHING_WRONG:
            return (
                f"Something went wrong this evening ({chance(1 - j.right_stars)}): "
                f"{j.rest_deg:+.1f}° is more than any likely stop would show with this pair. "
                f"A star badly centred or an encoder that slipped: {chance(j.fumbled)}; "
                f"a wrong star: {chance(wrong_star)}."
            )
        case NumberFinding.BLIND:
            return (
                f"One number cannot decide here: with {j.pair.star_a} and {j.pair.star_b} a stop "
                f"that is 1° off moves the number by only {j.sensitivity:.2f}°, so it says "
                "almost nothing about the stop."
            )
        case NumberFinding.CLOCK_UNKNOWN:
            return (
                "One number cannot decide until it is known whether the controller has a clock: "
                f"with this pair that alone makes {math.degrees(abs(j.pair.drift)):.2f}°. "
                f"As it stands, the stop is {stop}."
            )
        case NumberFinding.NOTHING:
            return (
                f"Nothing to mend on this evidence: {j.rest_deg:+.2f}° is no more than your "
                f"centring leaves ({sigma_words(j.centring_sigma_deg)}°, 1 sigma). "
                f"The stop: {stop}."
            )
        case NumberFinding.STOP:
            return (
                f"The stop explains it: it is off by {stop}, so the tube at the stop points "
                f"{higher(j.stop_deg)} than the circle says. Both stars right and "
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
        out.append(f"a star was perhaps wrong or badly centred ({chance(1 - j.right_stars)})")
    if abs(j.sensitivity) < 0.5 or j.stop_sigma_deg > 0.5 * j.stop_prior_sigma_deg:
        out.append("cone, squareness, centring and the stop all move this one number")
    return out


def next_step(j: Judgement) -> str:
    """What to do next."""
    match j.finding:
        case NumberFinding.WRONG_STAR:
            meant = j.wrong_stars[0].meant
            return f"Sight {meant} again and read the number again before you change the stop"
        case NumberFinding.SOMETHING_WRONG:
            return "Set the tube at the stop and sight both stars again before you change anything"
        case NumberFinding.BLIND:
            return _BETTER
        case NumberFinding.CLOCK_UNKNOWN:
            return (
                "Give --clock or --no-clock; or sight both stars within half a minute, so that it "
                "does not matter"
            )
        case NumberFinding.NOTHING:
            return "Go observing, and keep the number: several evenings together tell more"
        case NumberFinding.STOP:
            return (
                "One evening is not enough: see whether the next number says the same before you "
                "change the stop"
            )
        case NumberFinding.UNDECIDED:
            return f"{_BETTER}, or give the numbers of several evenings as a file"


def part_name(p: Part) -> str:
    """What a share of the number is due to."""
    own = {"drift": "the sky's drift", "air": "the air", "centring": "centring"}
    return own.get(p.key) or term(p.key)


def higher(stop_deg: float) -> str:
    """Where the tube really points at a stop with that altitude zero."""
    return "higher" if stop_deg > 0 else "lower"


# ---- a run of evenings


def run_sentence(c: Combined) -> str:
    """What the evenings say together."""
    size = f"{c.stop_deg:+.2f} ± {sigma_words(c.stop_sigma_deg)}°"
    n, tail = len(c.evenings), _aside(c) + _on_the_clock(c)
    match c.finding:
        case RunFinding.UNDECIDED:
            blind = all(abs(e.sensitivity) < BLIND for e in c.evenings)
            why = (
                "each pair stood at nearly one azimuth"
                if blind
                else "these pairs and your hand allow no better"
            )
            return f"{n} evenings cannot decide yet: the stop is {size}; {why}.{tail}"
        case RunFinding.NOTHING:
            return f"The stop is right as far as {n} evenings tell: {size}.{tail}"
        case RunFinding.STOP:
            return (
                f"The stop is off by {size} over {n} evenings: the tube at the stop points "
                f"{higher(c.stop_deg)} than the circle says.{tail}"
            )


def _aside(c: Combined) -> str:
    bad = [e.label for e in c.evenings if e.bad > 0.5]
    return f" Set aside as not fitting: {', '.join(bad)}." if bad else ""


def _on_the_clock(c: Combined) -> str:
    if c.clock is not None or max(abs(e.drift_deg) for e in c.evenings) <= 0.1:
        return ""
    if c.clockless > 0.9:
        return f" The controller behaves as one without a clock ({chance(c.clockless)})."
    if c.clockless < 0.1:
        return f" The controller allows for the sky's turn ({chance(1 - c.clockless)})."
    return " These evenings do not tell whether the controller has a clock."


def run_next_step(c: Combined) -> str:
    """What to do next."""
    match c.finding:
        case RunFinding.UNDECIDED:
            return (
                "Take pairs at nearly opposite azimuths: the stop then moves the number twice as "
                "much"
            )
        case RunFinding.NOTHING:
            return "Leave it alone"
        case RunFinding.STOP:
            return (
                "See which shims mend it; that needs the stop's lever arm and direction in the kit"
            )


# ---- a known change under the stop


def sign_sentence(s: SignLearnt) -> str:
    """What the change teaches of the sign."""
    each = f"{s.per_mm_deg:+.2f} ± {sigma_words(s.per_mm_sigma_deg)}°"
    moved = f"Each millimetre moves the number by {each}"
    needs = f"a change of the number by {s.least_deg:.2f}°"
    if s.least_mm is not None:
        needs += f", as {s.least_mm:.1f} mm make,"
    if s.to_zero_mm is None:
        return (
            f"{moved}: too little to tell which way. The smallest that this check surely sees is "
            f"{needs.rstrip(',')}. Try a thicker shim, or centre more closely."
        )
    act = (
        f"adding {s.to_zero_mm:.1f} mm"
        if s.to_zero_mm > 0
        else f"taking out {-s.to_zero_mm:.1f} mm"
    )
    said = f"{moved}; {act} from here would bring it to zero. "
    if s.direction_known:
        p = s.measured_minus_true
        said += f"The number is {SIGNS[0] if p > 0.5 else SIGNS[1]} ({chance(max(p, 1 - p))})."
    else:
        said += (
            "The sign and the direction cannot both be learnt from this: if the number is "
            f"measured minus true, adding {s.adding} the tube."
        )
    if s.size_ratio is not None and not 0.5 < s.size_ratio < 2.0:
        said += (
            f" But the step is {s.size_ratio:.1f} times what a lever arm of {s.lever_arm_mm:g} mm "
            "gives: check the arm, or whether it was the same pair of stars."
        )
    return f"{said} The smallest that this check surely sees: {needs.rstrip(',')}."


# ---- rules of thumb


class RuleWords(NamedTuple):
    """A rule, what it says here, and what the arithmetic says beside it."""

    rule: str
    says: str
    because: str


def rule_words(r: Rule) -> RuleWords:
    """A rule of thumb in words."""
    if isinstance(r, QuickRule):
        wait = "; the wait from the stop to the first star adds none" if r.span_s > 60 else ""
        bound = (
            "no wait between the stars matters"
            if r.bound_s is None
            else f"on a controller without a clock {r.bound_s:.0f} s between the stars move the "
            "number by a quarter of the field"
        )
        return RuleWords(
            f"the stop and both stars quickly: with this pair {bound}",
            f"{r.span_s:.0f} s, {r.between_s:.0f} of them between the stars: {r.says}",
            f"the drift between the stars was {r.drift_deg:.2f}°{wait}",
        )
    if isinstance(r, SmallNumberRule):
        return RuleWords(
            _small_enough(r),
            f"{r.worst_deg:.2f}°: {r.says}, {chance(r.chance)} in the field at its zero",
            f"the stop is off by {r.stop_deg:+.2f} ± {sigma_words(r.stop_sigma_deg)}°, "
            "and of that the number shows anything from none to twice, by where the stars stood",
        )
    if r.adding is None:
        because = "it depends on which way adding tips the tube: `plumbstar check stop-direction`"
    elif r.ours is None:
        because = "the offset is not yet certain enough to say"
    else:
        because = f"on this kit adding {r.adding} the tube, so the arithmetic says {r.ours}"
    return RuleWords(
        "numbers always positive, and larger than will do: add thickness under the stop; "
        "always negative: remove some",
        f"{r.says} thickness{'' if r.numbers > 1 else ' (on one number only)'}",
        because,
    )


def _small_enough(r: SmallNumberRule) -> str:
    """The rule with its bound for this kit and pair."""
    field = f"the {r.field_deg:.1f}° field"
    if r.bound_deg is None:
        return f"a small number is good enough: with this pair and {field} no number tells"
    return (
        f"a small number is good enough: with this pair up to {r.bound_deg:.1f}° leaves half of "
        f"the objects or more in {field}"
    )
