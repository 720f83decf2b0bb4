"""The night, an object and its order in words, the same for commands, pages and card."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np

from plumbstar.sky.bodies import Body, semidiameter_rad
from plumbstar.sky.events import HORIZON_REFRACTION_DEG, TWILIGHTS
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.local_time import abbreviation, local
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.targets.light import STEP_MINUTES, NightLight
from plumbstar.targets.longer import Longer
from plumbstar.targets.model import Difficulty, Hitch, LeftOut, Prospect, VisitNote
from plumbstar.targets.pool import DAZZLED_MINUTES, PLANET_MINUTES
from plumbstar.text import words
from plumbstar.units import Array

#: The word of difficulty as the start of a sentence.
DIFFICULTY: dict[Difficulty, str] = {d: d.capitalize() for d in get_args(Difficulty)}


def what(target: Target) -> str:
    """What it is: "galaxy in Ursa Major, magnitude 8.4, 27′ long"."""
    if isinstance(target, Body):
        return "the Moon" if target.name == "Moon" else target.kind
    if isinstance(target, Double):
        return f"double star, {target.summary.replace(' arcsec', '″')}"
    if not isinstance(target, DeepSky):
        return "star"
    parts = [target.kind]
    if target.constellation in CONSTELLATIONS:
        parts[0] += f" in {CONSTELLATIONS[target.constellation][0]}"
    if not math.isnan(target.v_mag):
        parts.append(f"magnitude {words.magnitude(target.v_mag)}")
    if not math.isnan(target.size_arcmin):
        parts.append(f"{size(target.size_arcmin)} long")
    return ", ".join(parts)


def with_what(p: Prospect) -> str:
    """What to look with: "9 mm", "32 mm and the narrow band filter"."""
    return p.eyepiece + (f" and the {p.filter} filter" if p.filter else "")


def note(n: VisitNote | None) -> str:
    """What to know about a visit, as a sentence, or nothing."""
    if n is None:
        return ""
    match n.hitch:
        case Hitch.DAZZLED:
            return f"First {DAZZLED_MINUTES:.0f} minutes in the dark: the Moon has dazzled the eye."
        case Hitch.BRIGHT_BEFORE:
            return f"First {PLANET_MINUTES:.0f} minutes in the dark: the planet was bright."
        case Hitch.NOT_AT_ITS_BEST:
            return f"Not at its best then: {words.about_chance(n.chance)} to see it."
        case Hitch.WAIT_FOR_HEIGHT:
            return f"{_break(n.gap)}: it is not high enough before."
        case Hitch.WAIT_FOR_DARKNESS:
            return f"{_break(n.gap)}: it is not dark enough before."
        case Hitch.GOES_DOWN:
            return "It sets soon: look at it early."


def longer(what: Longer, end: Instant, zone: str) -> str:
    """What staying costs, as a sentence; ``end`` of the order, told in the site's own time."""
    more = f"{what.minutes:.0f} minutes more here"
    until = local(end, zone)
    if not what.lost:
        if not what.left:
            return f"Nothing more is planned until {until}: stay as long as you like."
        return f"{more} would cost nothing: the rest of the order still fits until {until}."
    lost = words.joined([_and_sets(v.prospect, end, zone) for v in what.lost])
    said = f"{more} would cost {lost}."
    if what.come:
        come = words.joined([v.prospect.target.label for v in what.come])
        said += f" In the gap {'fits' if len(what.come) == 1 else 'fit'} {come}."
    return said


def _and_sets(p: Prospect, end: Instant, zone: str) -> str:
    """By its name, and when it goes down if it does not wait for the end."""
    gone = f" (gone at {local(p.last, zone)})" if p.last < end else ""
    return f"{p.target.label}{gone}"


def _break(minutes: float) -> str:
    return f"A break of {5 * round(minutes / 5):.0f} minutes"


_LEFT_OUT = {
    LeftOut.NO_TIME: "no time for it",
    LeftOut.BETTER_LATER: "better later",
    LeftOut.PAST_ITS_BEST: "past its best",
}


def left_out(why: LeftOut) -> str:
    """Why an object has no place in the order."""
    return _LEFT_OUT[why]


def size(arcmin: float) -> str:
    """ "27′", "1.4′", "40″", "3.0°"."""
    if arcmin >= 100.0:
        return f"{arcmin / 60.0:.1f}°"
    if arcmin < 1.0:
        return f"{60.0 * arcmin:.0f}″"
    return f"{arcmin:.0f}′" if arcmin >= 10.0 else f"{arcmin:.1f}′"


def zone_words(light: NightLight) -> str:
    """What the times are that the words below give: "UTC", or the site's own, as "CET"."""
    return abbreviation(light.instants[0], light.site.time_zone)


def _turns(light: NightLight, height: Array, level: float) -> list[str]:
    """When a height (steps,) passes a level, by the clock; linear between the steps."""
    over = height > level
    k = np.flatnonzero(over[1:] != over[:-1])
    parts = (level - height[k]) / (height[k + 1] - height[k])
    return [
        local(light.instants[i].plus_seconds(60.0 * STEP_MINUTES * part), light.site.time_zone)
        for i, part in zip(k.tolist(), parts.tolist(), strict=True)
    ]


def moon(light: NightLight) -> str:
    """The Moon through the hours of the survey: "The Moon, 62% lit, is up from 01:25."."""
    lit = f"The Moon, {words.lit(light.moon_lit)},"
    # As the almanac has it (events.py): the upper limb, over a level horizon.
    limb = float(semidiameter_rad(Body("Moon"), light.middle))
    level = -math.radians(HORIZON_REFRACTION_DEG) - limb
    up_first = light.moon_alt[0] > level
    turns = _turns(light, light.moon_alt, level)
    if not turns:
        return f"{lit} is up all the time." if up_first else f"{lit} stays down."
    first, *later = turns
    if up_first:
        again = f" and is up again from {later[0]}" if later else ""
        return f"{lit} sets at {first}{again}."
    until = f" until {later[0]}" if later else ""
    return f"{lit} is up from {first}{until}."


def darkness(light: NightLight) -> str:
    """When it is fully dark in those hours, or how dark it gets."""
    level = math.radians(TWILIGHTS["astronomical"])
    dark_first = light.sun_alt[0] < level
    turns = _turns(light, light.sun_alt, level)
    if not turns:
        if dark_first:
            return "Dark all the time."
        lowest = -math.degrees(float(light.sun_alt.min()))
        return f"It does not get fully dark: the Sun is {lowest:.0f}° down at its lowest."
    if dark_first:
        return f"Dark until {turns[0]}."
    return f"Dark from {' to '.join(turns[:2])}."
