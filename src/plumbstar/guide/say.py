"""What is said of a push."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.contract.answers.pointing import PushNumbers, PushReport
from plumbstar.guide.push import Push
from plumbstar.guide.snag import Snag
from plumbstar.text.words import joined


def sentence(p: Push) -> str:
    """What to do, in one line."""
    side = "right" if p.push_az_deg >= 0 else "left"
    way = "up" if p.push_alt_deg >= 0 else "down"
    return (
        f"{p.target}: push {abs(p.push_az_deg):.1f}° {side} and {abs(p.push_alt_deg):.1f}° {way}."
    )


def warnings(p: Push) -> tuple[str, ...]:
    """What makes it harder, each in a sentence or two."""
    return tuple(_snag(s, p) for s in p.snags)


#: What follows a reason not to rely on the chance.
_FIRST = "Sight one more before you go by this."
#: They agree only with a mount that the kit does not expect.
FAR_OFF = "The mount is further off than the kit expects, or two stars are wrong."


def other_names(called: Sequence[str]) -> str:
    """They fit as other stars than they were ``called``, though not surely."""
    others = "another star" if len(called) == 1 else "others"
    return f"{joined(called)} may have been {others} than you said."


def contradicts(last_star: str) -> str:
    """Why the chance is not to be relied on: ``last_star`` was the last one centred."""
    return (
        f"{last_star} contradicts what was centred before it: another star, or something has "
        f"moved. {_FIRST}"
    )


def suspected(star: str) -> str:
    """The same for one centred earlier, which may or may not be wrong."""
    return (
        f"{star} may not go with the other stars: another one, badly centred, or something has "
        f"moved. {_FIRST}"
    )


def names_unsure(called: Sequence[str]) -> str:
    """The same of :func:`other_names`."""
    return f"{other_names(called)} {_FIRST}"


def one_is_wrong() -> str:
    """The same where it is not clear which star does not go with the others."""
    return f"One star looks wrong, and not clearly which. {_FIRST}"


def far_off() -> str:
    """The same of :data:`FAR_OFF`."""
    return f"{FAR_OFF} {_FIRST}"


def unchecked(last_star: str) -> str:
    """Nothing has put the fix to the test since ``last_star``, the last one centred."""
    return (
        f"Something may have moved unnoticed since {last_star} was centred. If this is not in the "
        "field, sight a star."
    )


def report(p: Push) -> PushReport:
    """The record that programs are given; what the caller adds is left unset."""
    numbers = {name: getattr(p, name) for name in PushNumbers.__struct_fields__}
    return PushReport(sentence=sentence(p), warnings=warnings(p), **numbers)


def _snag(s: Snag, p: Push) -> str:
    """What makes it harder, and what helps."""
    alt = p.target_alt_deg
    match s:
        case Snag.OVERHEAD:
            return (
                f"Close to overhead ({alt:.0f}° up): a small push turns the azimuth far, and the "
                "tube is hard to turn. Come at it from below, or wait."
            )
        case Snag.BEHIND_SKYLINE:
            return (
                f"Behind your skyline: it is {alt:.0f}° up and the skyline there is "
                f"{p.skyline_deg:.0f}°."
            )
        case Snag.LOW:
            return f"Low, {alt:.0f}° up: the air dims and shakes it."
        case Snag.BEYOND_THE_TUBE:
            low, high = p.limits_deg
            return f"Your kit says the tube moves from {low:.0f}° to {high:.0f}° up."
