"""What a controller's numbers say, for whoever wrote them down: without a term of the trade."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from plumbstar.coach.number import JudgedNumber
from plumbstar.coach.told import NumberTold, StarTold
from plumbstar.controller import Combined, Judgement, NumberFinding, RunFinding
from plumbstar.diagnose.explain.written import ClockTime
from plumbstar.text.words import chance, upper_first

_OPPOSITE = "take two stars on opposite sides of the sky, each a third to two thirds of the way up"


def clock_words(c: ClockTime) -> str:
    """As it was written: "7:42 pm", "19:42", "7:42", "18:42 UTC"."""
    if c.full is not None:
        return f"{c.full.iso()[:16].replace('T', ' ')} UTC"
    hour, minute = divmod(round(c.seconds / 60), 60)
    half = c.half if c.half in ("am", "pm") else ""
    if half:
        hour = (hour + 11) % 12 + 1
    return f"{hour}:{minute:02d}" + (f" {half}" if half else "") + (" UTC" if c.utc else "")


def line(n: NumberTold) -> str:
    """A number with its two stars, as it was understood."""
    stars = ", then ".join(_star(s) for s in n.stars)
    after = f" after {stars}" if stars else ""
    unsigned = "" if n.signed or not n.deg else " (no sign was written: taken as plus)"
    said = "".join(f"; {x}" for s in n.stars for x in s.said)
    return f"Your controller shows {n.deg:+g}°{after}{unsigned}{said}"


def _star(s: StarTold) -> str:
    name = " or ".join(t.label for t in (s.thing, *s.perhaps))
    return f"{name} at {clock_words(s.clock)}" if s.clock is not None else name


def _upright(stop_deg: float, sigma_deg: float) -> str:
    way = "higher" if stop_deg > 0 else "lower"
    return (
        f"at the upright position that you start from the tube points about {abs(stop_deg):.1f}° "
        f"(give or take {max(sigma_deg, 0.1):.1f}°) {way} than the controller believes"
    )


def plain(j: Judgement) -> str:
    """What one number says."""
    wrong = max(1.0 - j.right_stars - j.fumbled, 0.0)
    match j.finding:
        case NumberFinding.WRONG_STAR:
            w = j.wrong_stars[0]
            return (
                f"One of the stars was probably another one ({chance(wrong)}): {w.star} in place "
                f"of {w.meant} would show {w.would_show_deg:+.1f}°."
            )
        case NumberFinding.SOMETHING_WRONG:
            return (
                "That is more than a telescope in order shows with these two stars: one was not in "
                f"the middle, or something slipped ({chance(j.fumbled)}), or one was another star "
                f"({chance(wrong)})."
            )
        case NumberFinding.BLIND:
            return (
                f"With {j.pair.star_a} and {j.pair.star_b}, as they stood, the number tells next "
                "to nothing: it stays small even where the upright position is off."
            )
        case NumberFinding.CLOCK_UNKNOWN:
            drift = abs(math.degrees(j.pair.drift))
            return (
                f"Between the two stars the sky turned on, which makes {drift:.1f}° of the number "
                "with a controller that does not allow for it. Not every one does."
            )
        case NumberFinding.NOTHING:
            return "That is no more than centring by eye leaves. Nothing needs mending."
        case NumberFinding.STOP:
            return (
                f"Most likely ({chance(j.right_stars)}) both stars were right, and "
                f"{_upright(j.stop_deg, j.stop_sigma_deg)}."
            )
        case NumberFinding.UNDECIDED:
            return (
                "One number cannot tell what made it: a star not quite in the middle, a tube that "
                "is not square, or the upright position. If it is that alone, "
                f"{_upright(j.stop_deg, j.stop_sigma_deg)}."
            )


def plain_next(j: Judgement) -> str:
    """What to do then."""
    match j.finding:
        case NumberFinding.WRONG_STAR:
            meant = j.wrong_stars[0].meant
            return (
                f"point at {meant} once more, make sure that it is {meant}, and tell me the number."
            )
        case NumberFinding.SOMETHING_WRONG:
            return "begin again at the upright position, with both stars, and tell me the number."
        case NumberFinding.CLOCK_UNKNOWN:
            return "do both stars within half a minute, so that this does not matter, and tell me."
        case NumberFinding.NOTHING:
            return "go and observe, and keep the number: those of several evenings tell more."
        case NumberFinding.STOP:
            return (
                "change nothing yet. See whether the next evening's number says the same, and tell "
                "me."
            )
        case NumberFinding.BLIND | NumberFinding.UNDECIDED:
            return f"next time {_OPPOSITE}, and tell me that number too."


def body(found: Sequence[JudgedNumber], combined: Combined | None, alike_deg: float) -> list[str]:
    """What one number says, or several and what they say together; last what to do."""
    first = found[0].judgement
    if combined is None:
        return [_both_signs(found[0], plain(first)), "", f"Next: {plain_next(first)}"]
    lines = [
        f"- {f.told.deg:+g}° ({f.judgement.pair.star_a}, {f.judgement.pair.star_b}): "
        f"{_both_signs(f, plain(f.judgement))}"
        for f in found
    ]
    lines += ["", *_together(found, combined, alike_deg)]
    return lines


def _both_signs(f: JudgedNumber, said: str) -> str:
    j = f.judgement
    if f.told.signed or j.finding not in (NumberFinding.STOP, NumberFinding.UNDECIDED):
        return said
    return f"{said} If there was a minus, it is the other way round."


def _together(found: Sequence[JudgedNumber], c: Combined, alike_deg: float) -> list[str]:
    odd = [f for f, e in zip(found, c.evenings, strict=True) if e.bad > 0.5]
    if odd and len(odd) < len(found):
        pair = odd[0].judgement.pair
        return [
            f"Together: the {odd[0].told.deg:+g}° does not go with the other. Something was "
            "different that time: a star, how it was centred, or something slipped.",
            "",
            f"Next: do {pair.star_a} and {pair.star_b} once more, and tell me the number.",
        ]
    if _apart(found):
        return [
            "They contradict one another: one of the times a star was another one or not in the "
            "middle, or something slipped. Which, they do not tell.",
            "",
            "Next: do both pairs once more, and tell me both numbers.",
        ]
    same = same_pair([f.told for f in found], alike_deg)
    if c.finding is RunFinding.NOTHING:
        both = "Together: the upright position is right, as far as they tell."
    elif c.finding is RunFinding.STOP:
        both = f"Together: {_upright(c.stop_deg, c.stop_sigma_deg)}."
    else:
        both = "Together: they cannot tell yet. " + upper_first(
            f"if it is the upright position alone, {_upright(c.stop_deg, c.stop_sigma_deg)}."
        )
    return [*same, both, "", f"Next: {_OPPOSITE}, and tell me that number too."]


def _apart(found: Sequence[JudgedNumber]) -> bool:
    """Whether two of them ask for a stop that is not the other's, by 2.5 sigma."""
    js = [f.judgement for f in found]
    return any(
        abs(a.stop_deg - b.stop_deg) > 2.5 * math.hypot(a.stop_sigma_deg, b.stop_sigma_deg)
        for a, b in itertools.combinations(js, 2)
    )


def same_pair(numbers: Sequence[NumberTold], alike_deg: float) -> list[str]:
    """What is to be said of two numbers before it is known where the stars stood."""
    if len(numbers) < 2:
        return []
    a, b = numbers[:2]
    names = [{s.thing.label for s in n.stars} for n in (a, b)]
    if names[0] != names[1]:
        return [
            "Two pairs of stars show two numbers, and both can be right: how much of one fault a "
            "number shows hangs on where its stars stood. Both together tell more than one."
        ]
    gap = abs(a.deg - b.deg)
    if gap <= alike_deg:
        return [
            f"The same pair twice, {gap:.1f}° apart: that is no more than centring by eye leaves."
        ]
    return [
        f"The same pair twice should come within {alike_deg:.1f}° unless it stood quite elsewhere "
        f"by then, and these are {gap:.1f}° apart: one of the four times it was another star or "
        "not in the middle, or something slipped."
    ]
