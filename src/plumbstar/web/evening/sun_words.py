"""The question about the Sun, in words: why it is asked, and what was answered."""

from __future__ import annotations

from plumbstar.sky.coordinates import words as coordinate_words
from plumbstar.sky.local_time import local
from plumbstar.sky.times import Instant
from plumbstar.web.evening.sun_question import GOOD_FOR_S, Dissent, SunAnswer

QUESTION = "Is the Sun below the horizon where you stand?"
CARRIED = (
    "Before this computer was restarted the clocks known here disagreed whether the Sun is up, and "
    "nobody has answered."
)


def why_asked(dissent: tuple[Dissent, ...], now: Instant, zone: str) -> str:
    """What the clocks say, in a sentence or two."""
    if not dissent:
        return CARRIED
    said = [f"The pages go by {_clock(now, now, zone)}, when it is night."]
    said += [_one(d, now, zone) for d in dissent]
    return " ".join(dict.fromkeys(said))  # two phones that say the same are told of once


def _one(d: Dissent, now: Instant, zone: str) -> str:
    high = f"the Sun is {d.sun_alt_deg:.0f}° up" if d.sun_alt_deg >= 1.0 else "the Sun is rising"
    if d.sun_alt_deg < 1.0:
        high = "the Sun is at the horizon"
    if d.elsewhere:
        where = coordinate_words(d.place.lat_deg, d.place.lon_deg, d.place.elevation_m)
        return f"{d.claim.words()} at {where}, where the GPS says you stand: {high}."
    return f"{d.claim.words()} says {_clock(d.utc, now, zone)}: then {high}."


def _clock(t: Instant, now: Instant, zone: str) -> str:
    """The hour there; with the date where it is another day's."""
    day = f"{t.iso()[:10]} " if abs(t.minus(now)) > 20 * 3600.0 else ""
    return f"{day}{local(t, zone, with_zone=True)}"


def answered_words(a: SunAnswer, zone: str) -> str:
    """For the log and the screen."""
    at = local(Instant.parse(a.utc), zone, with_zone=True)
    who = f" on screen {a.by}" if a.by else ""
    whose = dict.fromkeys(f"{c.words()[:1].lower()}{c.words()[1:]}" for c in a.of)
    clocks = ", ".join(whose)
    against = f" According to {clocks}, it was up." if clocks else ""
    if a.below:
        return (
            f"Answered{who} at {at}: the Sun is below the horizon.{against} This holds for "
            f"{GOOD_FOR_S / 60.0:.0f} min."
        )
    return (
        f"Answered{who} at {at}: the Sun is up, or it is not sure. Nothing is pointed to until it "
        "is answered with yes."
    )
