"""Tonight as it would be: what the page supposes, and the night that answers it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from plumbstar.errors import UserError
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.naming import own_source
from plumbstar.sky.naming.minor_bodies import all_bodies
from plumbstar.sky.site import ZENITH_MAG, ZENITH_USUAL
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Conditions, Prospect, conditions_of
from plumbstar.targets.prospects import prospects
from plumbstar.targets.taste import Taste, taste_of
from plumbstar.targets.tonight import Survey, survey
from plumbstar.targets.what_if import DARKEST_MAG, Shortlist, Supposed, quarter_named
from plumbstar.targets.wishes import Wishes
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.setup import Setup

#: What the air may do to a star, arcseconds.
SEEING_ARCSEC = (0.5, 10.0)
#: A sky or a star's width that differs by less is the same.
_SAME = 0.005


@dataclass(frozen=True)
class Supposition:
    """What the page supposes. ``setup`` has the site that it supposes; ``elsewhere`` names it if it
    is another than tonight's. ``settled``: the finger rests, so the order may take its time."""

    supposed: Supposed
    setup: Setup
    elsewhere: str
    settled: bool

    def words(self, sky: Conditions) -> str:
        """What is supposed, as a sentence; empty where it comes to what is."""
        is_ = conditions_of(self.setup.site, self.setup.kit, own=self.setup.eye)
        out = [f"you stood at {self.elsewhere}"] if self.elsewhere else []
        if abs(sky.zenith_mag - is_.zenith_mag) > _SAME:
            how = "darker" if sky.zenith_mag > is_.zenith_mag else "brighter"
            out.append(f"the sky were {how} ({sky.zenith_mag:.1f} for {is_.zenith_mag:.1f})")
        if abs(sky.seeing_arcsec - is_.seeing_arcsec) > _SAME:
            how = "calmer" if sky.seeing_arcsec < is_.seeing_arcsec else "less calm"
            out.append(f"the air were {how} (stars {sky.seeing_arcsec:.1f}″ wide)")
        if self.supposed.cloudy:
            out.append(f"clouds covered the {self.supposed.cloudy}")
        if self.supposed.eyepiece:
            out.append(f"you had the {self.supposed.eyepiece} alone")
        return f"As if {', and '.join(out)}." if out else ""


def supposition_of(e: Evening, asked: Mapping[str, str]) -> Supposition | None:
    """From the page's query; None where it supposes nothing. Raises UserError."""
    if asked.get("if") != "1":
        return None
    setup, elsewhere = Setup.of(e), asked.get("site", "")
    if elsewhere and elsewhere != setup.site.name:
        site = e.ground.named(elsewhere[:120])
        setup = setup._replace(site=site, skyline=Skyline(e.book.skyline(site) or ()))
    else:
        elsewhere = ""
    cloudy, eyepiece = asked.get("cloudy", ""), asked.get("eyepiece", "")
    what = Supposed(
        zenith_mag=_number(asked, "zenith", ZENITH_MAG, ZENITH_USUAL),
        seeing_arcsec=_number(asked, "seeing", SEEING_ARCSEC, "Usual is 2 to 4"),
        cloudy=quarter_named(cloudy) if cloudy else None,
        eyepiece=setup.kit.eyepiece_named(eyepiece[:120]).name if eyepiece else "",
    )
    return Supposition(what, setup, elsewhere, asked.get("settled") == "1")


def _number(
    asked: Mapping[str, str], key: str, bounds: tuple[float, float], remedy: str
) -> float | None:
    text = asked.get(key, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not bounds[0] <= value <= bounds[1]:  # also false for nan
        raise UserError(f"{key} '{text[:20]}'", f"{bounds[0]:g} to {bounds[1]:g}", remedy)
    return value


@dataclass(frozen=True)
class DarkNight:
    """A night under the darkest sky, and the short lists made of it, by what was wished for."""

    setup: Setup
    past: tuple[str, ...]
    light: NightLight
    found: tuple[Prospect, ...]
    taste: Taste
    own: frozenset[str]
    short: dict[tuple[Wishes, float], Shortlist] = field(default_factory=dict, compare=False)

    @staticmethod
    def of(setup: Setup, past: tuple[str, ...], start: Instant, dawn: Instant) -> DarkNight:
        """Judged once: a third of a second."""
        site, kit, skyline, eye = setup
        own = own_source.listed()
        usual = conditions_of(site, kit, own=eye)
        sky = Supposed(zenith_mag=max(DARKEST_MAG, usual.zenith_mag)).sky(usual)
        night = survey(
            deepsky.load(), doubles.load(), start, dawn, site, kit, sky, skyline, own=own,
            bodies=all_bodies(),
        )  # fmt: skip
        taste = taste_of(past)
        return DarkNight(
            setup, past, night.light, tuple(prospects(night, taste=taste)), taste,
            frozenset(o.key for o in own) if own is not None else frozenset(),
        )  # fmt: skip

    def holds(self, setup: Setup, past: tuple[str, ...], start: Instant, dawn: Instant) -> bool:
        """Whether it is still that night, seen from there."""
        known = self.light.instants
        return (
            (self.setup, self.past) == (setup, past)
            and start.minus(known[0]) >= 0.0
            and dawn.minus(known[-1]) <= 600.0
        )

    def judged(self, what: Supposed, wishes: Wishes, hours: tuple[Instant, Instant]) -> Survey:
        """What is wished for of it, as it would be."""
        key = (wishes, round(hours[1].minus(self.light.instants[0]) / 600.0))
        if key not in self.short:
            while len(self.short) > 3:
                self.short.pop(next(iter(self.short)))
            wanted = wishes.choose(self.found)
            self.short[key] = Shortlist.of(self.light, wanted, hours, self.own)
        site, kit, skyline, eye = self.setup
        return self.short[key].judged(what, kit, conditions_of(site, kit, own=eye), skyline)
