"""The demo evening, played through the same parts that a real one uses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec
import numpy as np

from plumbstar.choose.answer import set_answer
from plumbstar.choose.candidates import candidates
from plumbstar.choose.forecast import trusting_stop
from plumbstar.choose.ranking import Choice, choose
from plumbstar.contract.answers.base import in_unit
from plumbstar.contract.answers.pointing import DemoReport, DemoVisitReport, TruthReport
from plumbstar.guide import say as push_say
from plumbstar.guide.push import Path, Push, push
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import shown_in
from plumbstar.simulate.mounts import HiddenMount
from plumbstar.simulate.reveal import rows
from plumbstar.simulate.scenario import Scenario
from plumbstar.sky.angles import between_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.answer import fix_answer
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.say import fix_sentence
from plumbstar.solve.since import NEXT_PUSH


@dataclass(frozen=True)
class DemoVisit:
    """One object pushed to: the instruction, and how far off the tube really landed, degrees."""

    push: Push
    off_deg: float
    off_trusting_deg: float

    @property
    def hit(self) -> bool:
        return self.off_deg < self.push.field_deg / 2

    @property
    def hit_trusting(self) -> bool:
        return self.off_trusting_deg < self.push.field_deg / 2


@dataclass(frozen=True)
class DemoEvening:
    """All that happened."""

    scenario: Scenario
    choice: Choice
    fix: Fix
    trusting: Fix
    visits: tuple[DemoVisit, ...]
    field_deg: float
    field_name: str

    def rows(self) -> Iterator[tuple[str, float, float, float]]:
        """Term by term: name, estimate, sigma, hidden truth (degrees; scales in percent)."""
        return rows(self.fix, self.scenario.hidden)

    def answer(self) -> DemoReport:
        """The record that programs are given."""
        practice = self.choice.common_practice
        said = fix_sentence(self.fix, self.field_deg, self.field_name)
        return DemoReport(
            site=self.scenario.site.name,
            choice=set_answer(self.choice.best),
            common_practice=set_answer(practice) if practice else None,
            fix=msgspec.structs.replace(
                fix_answer(self.fix),
                sentence=said,
                mean_hit_chance=NEXT_PUSH * self.fix.mean_hit_chance(self.field_deg),
                field_deg=self.field_deg,
            ),
            objects=tuple(
                DemoVisitReport(
                    push=push_say.report(v.push),
                    off_deg=v.off_deg,
                    in_field=v.hit,
                    off_trusting_stop_deg=v.off_trusting_deg,
                    in_field_trusting_stop=v.hit_trusting,
                )
                for v in self.visits
            ),
            in_field=sum(v.hit for v in self.visits),
            in_field_trusting_stop=sum(v.hit_trusting for v in self.visits),
            truth=tuple(
                TruthReport(term=n, **in_unit(shown_in(n)[1], truth=t, estimate=e, sigma=s))
                for n, e, s, t in self.rows()
            ),
        )


def play(scenario: Scenario, seed: int = 7, stars: int = 3) -> DemoEvening:
    """Choose, sight, fix, and push to every object; once more with the stop trusted.

    Both telescopes are the same one, centred and stopped by the same unsteady hand.
    """
    kit, site = scenario.kit, scenario.site
    eyepiece = kit.finder_eyepiece()
    field = kit.true_field_deg(eyepiece)
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    rng = np.random.default_rng(seed)
    step = (kit.azimuth.resolution_deg, kit.altitude.resolution_deg)
    telescope = HiddenMount(scenario.hidden, noise, rng, step)

    usable = candidates(catalogue.load(), scenario.start, site, skyline=scenario.skyline)
    choice = choose(
        usable, scenario.start, prior, noise, field, size=stars, skyline=scenario.skyline
    )
    now = scenario.start
    sightings = []
    for c in choice.best.stars:
        now = now.plus_seconds(45)
        az, alt = place_of(c.star, now, site)
        sightings.append(telescope.sight(c.star.label, az, alt, now))
    fix = solve(sightings, prior, noise)
    # The classic recipe: the first two stars, the stop believed, the mount perfect.
    trusting = solve(sightings[:2], trusting_stop(prior).flat(), noise)

    now = now.plus_seconds(40 * 60)
    visits = []
    for name in scenario.objects:
        target = find_target(name)
        reading = np.degrees(telescope.reading)
        p = push(
            fix,
            target.label,
            _path(target, now, site),
            float(reading[0]),
            float(reading[1]),
            field,
            sun=_path(Body("Sun"), now, site),
            seconds=kit.push_seconds,
            skyline=scenario.skyline,
        )
        where = (p.target_az_deg, p.target_alt_deg)
        classic = trusting.reading_for(*where, near_az_deg=float(reading[0]))
        off_trusting = _off(telescope.push_to(*classic), where)
        off = _off(telescope.push_to(p.to_az_deg, p.to_alt_deg), where)
        visits.append(DemoVisit(p, off, off_trusting))
        now = now.plus_seconds(8 * 60)
    return DemoEvening(scenario, choice, fix, trusting, tuple(visits), field, eyepiece.name)


def _path(target: Target, start: Instant, site: Site) -> Path:
    """Where a target stands, seconds after ``start``."""
    return lambda seconds: place_of(target, start.plus_seconds(seconds), site)


def _off(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Angle between two places, degrees."""
    u = kinematics.unit(*np.radians(np.array([a, b])).T)
    return float(np.degrees(between_rad(u[0], u[1])))
