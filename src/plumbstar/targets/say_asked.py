"""The answer to "can I see it?" in words, the same for the command and the pages."""

from __future__ import annotations

from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.local_time import local, local_date
from plumbstar.sky.times import Instant
from plumbstar.targets.asked import Helps, Visibility, WhyNot
from plumbstar.targets.model import Difficulty, Prospect
from plumbstar.targets.reasons import reason
from plumbstar.targets.say import with_what
from plumbstar.text import words

_WORD: dict[Difficulty, str] = {
    "easy": "Yes, easily",
    "fair": "Yes, with some care",
    "hard": "Perhaps: it is hard",
    "unlikely": "Hardly",
}
_WHY = {
    WhyNot.NEVER_HIGH: "It never stands high enough at this site.",
    WhyNot.NOT_IN_THE_DARK: "It does not stand high enough in the dark hours of these nights.",
    WhyNot.HIDDEN: "It stays behind your skyline.",
    WhyNot.MOONLIGHT: "The Moon is in the way.",
    WhyNot.LOW: "It stands too low.",
    WhyNot.TOO_CLOSE: "The two stars are closer than this aperture can split.",
    WhyNot.UNSTEADY_AIR: "The air of a usual night does not let this pair be split.",
    WhyNot.TOO_FAINT: "It is too faint for this telescope under this sky.",
    WhyNot.NO_LIGHT: "There is nothing to judge: no list gives a light at this place.",
}
_HELPS = {
    Helps.NARROW_BAND: "a narrow band filter",
    Helps.LINE: "a line filter",
    Helps.DARK_SITE: "a dark mountain sky",
    Helps.DARK_SITE_AND_FILTER: "a dark mountain sky and a filter for nebulae",
    Helps.STEADY_AIR: "a night of steady air",
    Helps.TWICE_THE_APERTURE: "twice the aperture",
}


def answer(v: Visibility) -> str:
    """Whether it can be seen tonight: "Yes, easily", "Not tonight"."""
    if v.tonight is None:
        return "Not tonight"
    said = _WORD[v.tonight.difficulty]
    return f"As two stars: {said[0].lower()}{said[1:]}" if isinstance(v.target, Double) else said


def how(p: Prospect, zone: str, now: Instant | None = None) -> str:
    """With what and when: "With the 9 mm, second best the 13 mm; best about 21:40.". No hour that
    has passed at ``now`` is named."""
    second = f", second best the {p.second}" if p.second else ""
    chance = words.upper_first(words.about_chance(p.chance))
    when = f"best about {local(p.best, zone, with_zone=True)}, {p.alt_deg:.0f}° up"
    if now is not None and p.best.minus(now) < 0.0:
        when = "the sooner the better"
    return f"With the {with_what(p)}{second}; {when}. {chance} to see it."


def why_not(v: Visibility) -> str:
    """What is in the way, or nothing."""
    if v.why_not is WhyNot.TOO_FAINT and v.tonight is not None and v.tonight.difficulty == "hard":
        return "It is at the limit for this telescope under this sky."
    return "" if v.why_not is None else _WHY[v.why_not]


def seen_as(v: Visibility) -> str:
    """The reason of the list, where it can be pointed at."""
    return "" if v.tonight is None else reason(v.tonight)


def later(v: Visibility, zone: str) -> str:
    """The next good night, or what would help where there is none."""
    if v.why_not in (None, WhyNot.NO_LIGHT, WhyNot.NEVER_HIGH):
        return ""
    if v.later is not None:
        p = v.later
        return (
            f"The next good night is {local_date(p.best, zone)}, about {local(p.best, zone)}: "
            f"{words.about_chance(p.chance)} to see it."
        )
    said = "No night of the coming year is good for it here with this telescope."
    return f"{said} {helps(v)}".strip()


def help_words(what: Helps) -> str:
    """One thing that would help."""
    return _HELPS[what]


def helps(v: Visibility) -> str:
    """What would help, each by itself."""
    if not v.helps:
        return ""
    each = [f"{_HELPS[h]} ({words.about_chance(c)})" for h, c in v.helps]
    *most, last = each
    return f"What would help: {', '.join(most)}{' or ' if most else ''}{last}."
