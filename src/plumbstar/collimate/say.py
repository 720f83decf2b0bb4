"""The judgement in words: the verdict, what to turn, and what neither says."""

from __future__ import annotations

from dataclasses import replace

from plumbstar.collimate.camera import StarPlace
from plumbstar.collimate.result import Collimation, Refusal
from plumbstar.collimate.spread import NONE
from plumbstar.text.advice import Advice, Do

#: A part of the disc burnt to white that is worth a word: below it no larger errors were measured.
_BURNT = 0.02


_REFUSED = {
    Refusal.TOO_FEW_PIXELS: "it is only {width} x {height} pixels. Send the whole picture.",
    Refusal.ALL_WHITE: "it is overexposed to white all over. Expose much less.",
    Refusal.NOTHING_STANDS_OUT: "nothing in it stands out from the background. Expose longer, on a "
    "brighter star.",
    Refusal.NO_DISC: "no round disc was found in it. It takes one bright star, well out of focus, "
    "on a dark sky.",
    Refusal.SMALL: "the star is only {across:.0f} pixels across: too small, or in focus. Rack the "
    "focuser further out, or zoom in, until the disc is at least 100 pixels across.",
    Refusal.OUTSIDE: "most of the disc lies outside the picture. Put it in the middle.",
    Refusal.NOT_ROUND: "its brightest part is not one round disc. It takes a single bright star, "
    "well out of focus, on a dark sky.",
    Refusal.NOT_ALONE: "there is more than one star or lamp in it. Choose a star that stands "
    "alone, or crop the picture.",
    Refusal.SHADOW_BURNT: "the disc is overexposed to plain white, so that the shadow is lost. "
    "Expose less (touch the disc on the screen and pull the brightness down).",
    Refusal.IN_FOCUS: "the light is gathered in the middle: the star is in focus or nearly. Rack "
    "the focuser out until there is a wide disc with a dark shadow.",
    Refusal.NO_SHADOW: "there is no dark shadow in the disc. A telescope without a central "
    "obstruction shows none and cannot be judged this way; otherwise rack the focuser further.",
    Refusal.TWO_SHADOWS: "there is more than one dark place in the disc. It takes a star, not the "
    "Moon or a lamp, and clean optics.",
    Refusal.SHADOW_NOT_ROUND: "what is dark in the disc is not one round shadow. Try a steadier "
    "picture with the focuser racked further out.",
    Refusal.SHADOW_TINY: "the dark spot is only {across:.0f} % as wide as the disc. The shadow of "
    "a secondary mirror is 12 to 50 % as wide, so this is no star out of focus, or the spot is "
    "dust. Take one bright star, with the focuser racked out until a wide dark middle shows.",
    Refusal.SHADOW_WIDE: "the dark middle is {across:.0f} % as wide as the ring. The shadow of a "
    "secondary mirror is 12 to 50 % as wide, so this is no star out of focus, or it is too near "
    "focus. Rack the focuser further out, and take one bright star.",
    Refusal.DARKER_THAN_SKY: "the dark middle is darker than the ground around the disc. A "
    "star's shadow never is, so this looks like a cup or another round thing. Take one bright "
    "star on a dark sky, with the focuser racked out.",
    Refusal.NO_SKY: "the ground around the disc is not smooth, as a dark sky would be. This looks "
    "like a thing on a table. Take one bright star on a dark sky, with the focuser racked out.",
    Refusal.UNCERTAIN: "the circles are too uncertain ({percent:.0f} % of the disc's radius). Try "
    "a sharper, brighter picture with the whole disc in it.",
}


def refuse(c: Collimation, why: Refusal, **numbers: float) -> Collimation:
    """The record of a picture that cannot be judged, with its reason in words."""
    reason = _REFUSED[why].format(**numbers)
    said = f"This picture cannot be judged: {reason}"
    return replace(c, can_judge=False, refusal=why, reason=reason, verdict=said)


def clock_words(clock: float) -> str:
    """Hours 0 to 12 as "4 o'clock" or "half past 4", to the nearest half hour."""
    halves = round(clock * 2) % 24
    hour = halves // 2 or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"


def describe(c: Collimation) -> Collimation:
    """The record with its sentences, from the numbers and the severity in it."""
    # No error is told as nil.
    pct, err = 100 * c.offset_fraction, max(100 * c.offset_sigma, 0.1)
    what = "The shadow" if c.sides == 1 else "The part of the shadow's offset that is coma"
    if c.severity == "centred":
        verdict = (
            f"The shadow is centred as far as this can tell: off by {pct:.1f} % of the disc's "
            f"radius, with a measuring error of {err:.1f} %{_tail(c)}."
        )
        if c.sides == 2:
            verdict = (
                f"No coma is to be seen: {pct:.1f} % of the disc's radius, with a measuring error "
                f"of {err:.1f} %{_tail(c)}."
            )
        return replace(c, verdict=verdict, turn="Nothing to turn.", caveats=_caveats(c))
    place = f"{clock_words(c.clock)} in the picture"
    if c.by_eye:
        place = f"{clock_words(c.seen_clock)} in the eyepiece"
    elif c.mirrored or c.up_clock % 12:
        place = f"{clock_words(c.seen_clock)} as you stand ({place})"
    verb = "is off-centre by" if c.sides == 1 else "is"
    verdict = f"{what} {verb} {pct:.1f} ± {err:.1f} % of the disc's radius, toward {place}."
    verdict += _against_field(c)
    how_far = ""
    if c.axis_diameters is not None:
        how_far = (
            f" {_proviso(c)}the good place lies about {c.axis_diameters:.1f} disc diameters from "
            "the star on that side."
        )
    turn = (
        f"Push the tube so that the star drifts toward {place}, the side the shadow is on, and "
        "bring it back to the middle with the adjusting screws alone: the screws must move the "
        f"star away from the shadow's side.{how_far} Turn a little, centre with the tube, look "
        "again. The offset must shrink; if it grows, turn the other way."
    )
    return replace(c, verdict=verdict, turn=turn, caveats=_caveats(c))


def _tail(c: Collimation) -> str:
    """Why an offset of several sigmas is called none: only where it is."""
    if c.offset_fraction < 2.0 * c.offset_sigma:
        return ""
    return ", or over twice that if the phone was held far askew"


def _proviso(c: Collimation) -> str:
    """What one picture must leave open and a pair has settled."""
    return "If that is all coma, " if c.sides == 1 else "By that, "


def _against_field(c: Collimation) -> str:
    """One sentence that compares with the coma-free field, as far as the inputs allow."""
    if c.focal_ratio is None or c.coma_free_mm is None or c.outside_beyond_mm is None:
        return ""
    field = (
        f"the field free of harmful coma (radius {c.coma_free_mm:.2f} mm at f/{c.focal_ratio:g})"
    )
    if c.axis_mm is not None:
        ratio = c.axis_mm / c.coma_free_mm
        where = "inside" if ratio <= 1 else "outside"
        return (
            f" {_proviso(c)}the middle of the eyepiece lies {c.axis_mm:.2f} mm from the "
            f"mirror's axis, {where} {field}."
        )
    return (
        f" {_proviso(c)}the middle of the eyepiece lies outside {field} when the focuser "
        f"stood more than {c.outside_beyond_mm:.1f} mm from focus."
    )


_MIDDLE = (
    "It holds for a star in the middle of the field: anywhere else the field's own coma is added."
)
_ASIDE = (
    "The star was not in the middle of the eyepiece: the field's own coma is in this, and the "
    "phone's slant with it. Centre the star and take it again."
)


def _caveats(c: Collimation) -> tuple[str, ...]:
    out = [_ASIDE if c.star is StarPlace.ASIDE else _MIDDLE]
    if c.burnt > _BURNT:
        out.append(
            f"{'Of one disc' if c.sides == 2 else 'Of the disc'} {100 * c.burnt:.0f} % is burnt "
            "out to plain white, which makes the measuring error larger. Expose less: the disc "
            "should be grey."
        )
    if c.by_eye:
        err = f"sure to {100 * c.offset_sigma:.1f} %"
        out.append(
            f"Set by eye, it is {err}: your settings themselves differ, and no eye does better "
            "than about 2 %, which was assumed, not measured. A photograph tells more."
        )
    if c.slant.along(1.0, 0.0) + c.slant.along(0.0, 1.0) > c.noise.along(1.0, 0.0) + c.noise.along(
        0.0, 1.0
    ):
        out.append(
            "Most of the measuring error is the phone's: one that looks in at a slant shifts the "
            "shadow. It is smallest with the disc in the middle of the picture, the star in the "
            "middle of the eyepiece, and the picture sent whole."
        )
    if c.sides == 1:
        out.append(
            f"{'One side of focus' if c.by_eye else 'One picture'} cannot part coma from a "
            "secondary that sits off-centre (as many do on purpose) or whose outline slides over a "
            "tilted mirror: less than half may be coma. "
            f"{'Look' if c.by_eye else 'Take it'} with the focuser racked OUT, where tilt and coma "
            "add and do not cancel."
        )
    if c.focal_ratio is not None and c.defocus_mm is None:
        out.append("The same misalignment shows less the further the focuser is from focus.")
    return tuple(out)


def advice(c: Collimation) -> tuple[Advice, ...]:
    """What would tell more."""
    if not c.can_judge:
        return ()
    wanted = {
        Do.SAY_WHERE_THE_STAR_WAS: c.star is StarPlace.UNTOLD and c.slant != NONE,
        Do.TAKE_A_SECOND_PICTURE: c.sides == 1 and not c.by_eye,
        Do.GIVE_THE_DEFOCUS: c.focal_ratio is not None and c.defocus_mm is None,
    }
    return tuple(Advice(do) for do, tells_more in wanted.items() if tells_more)
