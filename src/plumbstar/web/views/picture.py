"""The picture: everything the pages show, as plain values. Made once for each change.

Reads the evening and changes nothing. The shape is a contract with the pages; numbers are rounded
to what a screen can use, so that the picture stays small.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np

from plumbstar.choose.lookalikes import lookalikes_of
from plumbstar.contract.picture import UndoRecord
from plumbstar.errors import UserError
from plumbstar.guide.course import Course
from plumbstar.kit import Eyepiece
from plumbstar.logbook import LoggedSighting
from plumbstar.logbook.changes import Change, ChangeKind, on_a_button, sentence_part
from plumbstar.logbook.places import log_name
from plumbstar.logbook.words import signed_clock
from plumbstar.mount.terms import SCALES, TERMS
from plumbstar.sky import bodies
from plumbstar.sky.lists import catalogue, doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.local_time import spans
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.sky.places import Target, magnitude_of, place_of
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.solve.moved import MOVED_WORDS
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.sites import site_dict


def number(x: float | None, digits: int = 4) -> float | None:
    """Rounded, or None when there is no such number."""
    return None if x is None or not math.isfinite(x) else round(float(x), digits)


class Painter:
    """Makes pictures; keeps the slow parts (look-alikes) between one and the next."""

    def __init__(self, pairing: dict[str, Any] | None = None) -> None:
        self.pairing = pairing
        self._spans: tuple[tuple[str, int], dict[str, Any]] | None = None
        self._alike: dict[tuple[str, int], list[dict[str, Any]]] = {}

    def paint(self, e: Evening, version: int, az_reading_deg: float | None) -> dict[str, Any]:
        """The whole state. ``az_reading_deg`` chooses the side of the azimuth wrap."""
        now = e.now()
        near = az_reading_deg if az_reading_deg is not None else 180.0
        return {
            "version": version,
            "now": now.iso(),
            "server_unix_ms": round(now.to_unix() * 1000.0),
            "loading": e.loading,
            "site": site_dict(e.site) if e.site is not None else None,
            "sites": [site_dict(s) for s in e.book.sites()],
            "clock": self._clock(e, now),
            "kit": self._kit(e),
            "skyline": {
                "text": e.ground.skyline.text(),
                "points": [list(p) for p in e.ground.skyline.points],
            },
            "sun": self._sun(e, now),
            "outing": self._outing(e),
            "choice": e.plan.choice,
            "plan": [self._planned(e, name, now, near) for name in e.desk.plan],
            "next_star": e.plan.next_star,
            "sightings": self._sightings(e),
            "fix": fix_dict(e),
            "priors": self._priors(e),
            "target": self._target(e, now, near),
            "slip": self._slip(e),
            "moved": self._moved(e),
            "messages": [{"id": m.id, "text": m.text, "kind": m.kind} for m in e.messages.shown],
            "undo": _undo(e.sightings.undoable),
            "pairing": self.pairing,
            "timing": e.timekeeping.picture(e.outing) if e.timekeeping is not None else None,
        }

    # ---- the parts -------------------------------------------------------------------------

    def _clock(self, e: Evening, now: Instant) -> dict[str, Any]:
        """From yesterday to the day after tomorrow: a night of changed clocks is right too."""
        zone = e.site.time_zone if e.site is not None else ""
        key = (zone, int(now.to_unix() // 3600))
        if self._spans is None or self._spans[0] != key:
            hour = Instant.from_unix(key[1] * 3600.0)
            held = clock_of(zone, hour.plus_seconds(-86400.0), hour.plus_seconds(172800.0))
            self._spans = (key, held)
        return self._spans[1]

    @staticmethod
    def _kit(e: Evening) -> dict[str, Any]:
        kit = e.kit
        eyepieces: tuple[Eyepiece, ...] = kit.eyepiece or (kit.finder_eyepiece(),)
        return {
            "name": kit.name,
            "eyepieces": [
                {
                    "name": x.name,
                    "field_deg": number(kit.true_field_deg(x), 3),
                    "magnification": round(kit.magnification(x)),
                }
                for x in eyepieces
            ],
            "eyepiece": e.instrument.eyepiece.name,
            "field_deg": number(e.instrument.field_deg, 4),
            "connection": kit.connection.kind,
            "circles": {
                "az_reversed": kit.azimuth.reversed,
                "alt_reversed": kit.altitude.reversed,
            },
            "toml": e.instrument.kit_text,
        }

    @staticmethod
    def _sun(e: Evening, now: Instant) -> dict[str, Any] | None:
        if e.ground.almanac is None:
            return None
        sun = e.ground.almanac.now(now)
        return {
            "alt_deg": number(sun.alt_deg, 2),
            "az_deg": number(sun.az_deg, 2),
            "up": sun.up,
            "filter_confirmed": bool(e.outing is not None and e.outing.solar_filter),
            "sentence": sun.sentence,
        }

    @staticmethod
    def _outing(e: Evening) -> dict[str, Any] | None:
        o = e.outing
        if o is None:
            return None
        return {
            "id": o.id,
            "number": o.id,
            "started": o.started.iso(),
            "ended": o.ended.iso() if o.ended else None,
        }

    def _planned(self, e: Evening, name: str, now: Instant, near: float) -> dict[str, Any]:
        star = catalogue.load().find(name)
        seen = {s.sighting.star for s in e.sightings.used}
        out: dict[str, Any] = {
            "star": star.label,
            "label": star.designation if star.name else star.label,
            "v_mag": number(star.v_mag, 2),
            "colour": words.colour(star.bv),
            "done": log_name(star) in seen,
            "az_deg": None,
            "alt_deg": None,
            "where": "",
            "visible_from_utc": e.plan.choice.visible.get(star.label)
            if e.plan.choice is not None
            else None,
            "lookalikes": [],
            "az_reading_deg": None,
            "alt_reading_deg": None,
        }
        if e.site is None:
            return out
        az, alt = place_of(star, now, e.site)
        out |= {
            "az_deg": number(az, 2),
            "alt_deg": number(alt, 2),
            "where": words.where(az, alt),
            "lookalikes": self._lookalikes(e, star, now),
        }
        # An estimate of the reading is guidance as well: not toward the Sun, not by day.
        if e.fix is not None and alt > 0.0 and e.guidance.forbidden(Course(star, e.site)) is None:
            later = place_of(star, now.plus_seconds(e.kit.push_seconds), e.site)
            reading = e.fix.reading_for(*later, near_az_deg=near)
            out["az_reading_deg"] = number(reading[0], 3)
            out["alt_reading_deg"] = number(reading[1], 3)
        return out

    def _lookalikes(self, e: Evening, star: Star, now: Instant) -> list[dict[str, Any]]:
        assert e.site is not None
        # The sky turns a look-alike about its star by a quarter degree a minute: ten will do.
        key = (f"{star.key} {e.site.lat_deg} {e.site.lon_deg}", int(now.to_unix() // 600))
        if key not in self._alike:
            if len(self._alike) > 100:
                self._alike.clear()
            found = lookalikes_of(star, catalogue.load(), now, e.site)
            self._alike[key] = [
                {k: number(v, 3) if isinstance(v, float) else v for k, v in a.to_dict(star).items()}
                for a in found
            ]
        return self._alike[key]

    @staticmethod
    def _sightings(e: Evening) -> list[dict[str, Any]]:
        aside = e.solved.left_out()
        return [
            {
                "id": s.id,
                **sighting_dict(s),
                "residual_arcmin": number(e.solved.residual_arcmin(s.id), 2),
                "set_aside": not s.active or s.id in aside,
                "reason": s.reason or aside.get(s.id, ""),
            }
            for s in e.sightings.all
        ]

    @staticmethod
    def _priors(e: Evening) -> dict[str, Any] | None:
        learnt = e.instrument.learnt
        if learnt is None:
            return None
        told = [t for t in learnt.terms if t.outings]
        count = len({o for t in told for o in t.outings})
        if not count:
            return None
        rows: list[dict[str, Any]] = [
            {
                "name": t.name,
                "label": words.term(t.name),
                "value_deg": number(_degrees(t.name, t.mean), 3),
                "sigma_deg": number(_degrees(t.name, t.sigma), 3),
                "outings": len(t.outings),
            }
            for t in told
        ]
        stop = next((r for r in rows if r["name"] == "altitude_zero"), None)
        about = (
            f" the stop should read {abs(stop['value_deg']):.1f}° "
            f"{'low' if stop['value_deg'] > 0 else 'high'}, give or take {stop['sigma_deg']:.1f}°."
            if stop is not None
            else " see Mend for what they say."
        )
        return {
            "sentence": f"From {words.many(count, 'past outing')} with this telescope:{about}",
            "outings": count,
            "terms": rows,
        }

    @staticmethod
    def _slip(e: Evening) -> dict[str, Any] | None:
        slip = e.slips.open
        if slip is None:
            return None
        if "base" in slip.axes:
            return {
                "sentence": "You said that the base was moved or knocked. Sight two stars again: "
                "the first settles its direction, the second its lean. What the earlier "
                "sightings taught of the rest of the mount is kept."
            }
        circle = slip.axes[0] if len(slip.axes) == 1 else "azimuth and altitude"
        rest = (
            "What the earlier sightings taught of the mount is kept."
            if e.sightings.all
            else "Nothing is lost yet."
        )
        return {
            "sentence": f"Possible slip of the {circle} circle: {slip.why}. Sight one star again "
            f"to settle it. {rest} If you are sure that nothing moved, say so."
        }

    @staticmethod
    def _moved(e: Evening) -> dict[str, Any] | None:
        """The question whether something moved, where the sightings tell so."""
        moved = e.solved.moved
        if moved is None or e.slips.open is not None:
            return None
        here = [e.sightings.used[i].sighting.star for i in e.solved.parts[-1].indices]
        first = moved.first
        since = len(here) - first
        by = "" if math.isnan(moved.by_deg) else f", by about {abs(moved.by_deg):.1f}°"
        return {
            "after": e.solved.moved_after,
            "since": since,
            "sentence": f"Did something move between {here[first - 1]} and {here[first]}? It looks "
            f"like {MOVED_WORDS[moved.axes]}{by}. The {since} sightings since then agree with "
            "one another, but not with those before.",
        }

    def _target(self, e: Evening, now: Instant, near: float) -> dict[str, Any] | None:
        target, placed = e.target, e.guidance.target_now(now)
        if target is None or placed is None:
            return None
        _, az, alt = placed
        out: dict[str, Any] = {
            **describe(target, now),
            "az_deg": number(az, 3),
            "alt_deg": number(alt, 3),
            "to_az_deg": None,
            "to_alt_deg": None,
            "hit_chance": None,
            "patch": None,
            "warnings": [],
            "refused": e.guidance.refused,
            "sweep": None,
        }
        if e.fix is None or e.guidance.refused is not None:
            return out
        push = self._push(e, target, now, near)
        if isinstance(push, str):
            out["warnings"] = [push]
            return out
        out |= {
            "to_az_deg": number(push.to_az_deg),
            "to_alt_deg": number(push.to_alt_deg),
            "hit_chance": number(push.hit_chance, 3),
            "patch": {
                "major_deg": number(push.patch_major_deg),
                "minor_deg": number(push.patch_minor_deg),
                "angle_deg": number(push.patch_angle_deg, 1),
            },
            "warnings": list(push.warnings),
        }
        sweep, goal = e.search.under_way, e.guidance.goal(now, near)
        if sweep is not None and goal is not None:
            out["sweep"] = {
                "index": sweep.index,
                "stops": [[number(a), number(b)] for a, b in sweep.stops],
                "found_by": [number(x, 3) for x in sweep.found_by],
                "to_az_deg": number(goal[0]),
                "to_alt_deg": number(goal[1]),
            }
        return out

    @staticmethod
    def _push(e: Evening, target: Target, now: Instant, near: float) -> Any:
        from plumbstar.guide.push import push

        assert e.fix is not None
        assert e.ground.almanac is not None
        placed = e.guidance.target_now(now)
        assert placed is not None
        course, sun = placed[0], e.ground.almanac.sun
        try:
            return push(
                e.fix,
                target.label,
                lambda s: course.az_alt_deg(now.plus_seconds(s)),
                near,
                0.0,
                e.instrument.field_deg,
                sun=lambda s: sun.az_alt_deg(now.plus_seconds(s)),
                filter_confirmed=e.guidance.aim.filter_confirmed,
                seconds=e.kit.push_seconds,
                skyline=e.ground.skyline,
                min_alt_deg=e.kit.telescope.min_alt_deg,
                max_alt_deg=e.kit.telescope.max_alt_deg,
            )
        except UserError as err:
            return f"{words.upper_first(err.came)}. {err.remedy_on_pages}."


def _undo(change: Change | None) -> UndoRecord | None:
    """What pressing undo would take back."""
    if change is None:
        return None
    found = change.kind is ChangeKind.FOUND
    return UndoRecord(words=sentence_part(change), button=on_a_button(change), find=found)


def sighting_dict(s: LoggedSighting) -> dict[str, Any]:
    """A sighting as it was saved, degrees."""
    return {
        "star": s.sighting.star,
        "utc": s.sighting.utc.iso(1) if s.sighting.utc else None,
        "az_reading_deg": number(s.sighting.az_reading_deg),
        "alt_reading_deg": number(s.sighting.alt_reading_deg),
        "true_az_deg": number(s.sighting.true_az_deg),
        "true_alt_deg": number(s.sighting.true_alt_deg),
        "set_aside": not s.active,
        "reason": s.reason,
        "origin": s.origin,
        "corrected_by": signed_clock(s.corrected_by_s) if s.corrected_by_s else "",
    }


def clock_of(zone: str, start: Instant, end: Instant) -> dict[str, Any]:
    """How the pages turn UTC into a site's time: from when which offset holds."""
    held = spans(start, end, zone)
    return {
        "zone": zone or "UTC",
        "spans": [{"from": t.iso(), "offset_s": s, "short": short} for t, s, short in held],
    }


def describe(target: Target, now: Instant) -> dict[str, Any]:
    """What is known of a target besides its place."""
    if isinstance(target, bodies.Body):
        size, constellation = None, ""
    elif isinstance(target, Star):
        size, constellation = None, target.constellation
    else:
        size, constellation = target.size_arcmin, target.constellation
    pair = target if isinstance(target, Double) else None
    if isinstance(target, Star):
        pair = doubles.of(target)
    return {
        "name": log_name(target),
        "label": target.label,
        "kind": target.kind,
        "constellation": CONSTELLATIONS[constellation][0] if constellation else "",
        "v_mag": number(magnitude_of(target, now), 1),
        "size_arcmin": number(size, 1),
        "double": pair.at(now.julian_year).summary if pair else "",
    }


def _degrees(name: str, value: float) -> float:
    """A term in degrees; a scale as degrees of error in a whole turn."""
    return value * 360.0 if name in SCALES else math.degrees(value)


def fix_dict(e: Evening) -> dict[str, Any] | None:
    """The fix: the sentence first, then the terms, then what is weak."""
    fix = e.fix
    if fix is None:
        return None
    before = e.instrument.priors.sigma
    terms = []
    for i, name in enumerate(TERMS):
        if fix.prior.sigma[i] == 0 and fix.mean[i] == 0:
            continue
        # Against the evening's own priors: after a slip the fix's prior holds sightings already.
        if before[i] == 0:
            share = 0.0
        elif math.isinf(before[i]):
            share = 1.0
        else:
            share = min(1.0, max(0.0, 1.0 - float(fix.sigma[i] / before[i]) ** 2))
        said = words.TERM_WORDS[name]
        terms.append(
            {
                "name": name,
                "label": said.name,
                "value_deg": number(_degrees(name, float(fix.mean[i])), 3),
                "sigma_deg": number(_degrees(name, float(fix.sigma[i])), 3),
                "from_data": number(share, 2),
                "meaning": said.positive,
            }
        )
    sentence, mean = e.fix_words()
    if e.slips.open is not None:
        sentence = "Doubtful until one star is sighted again: something may have moved."
    names = [s.star for s in fix.sightings]
    return {
        "sentence": sentence,
        "mean_hit_chance": number(mean, 3),
        "terms": terms,
        "notes": [*_slip_notes(e), *fix.notes, *(f"{a.on_pages()}." for a in fix.advice)],
        "contradictory": fix.contradictory,
        "cuts": _cuts(e),
        "misclosures": [
            {
                "stars": [names[m.first], names[m.second]],
                "true_deg": number(m.true_deg, 3),
                "misclosure_deg": number(m.misclosure_deg, 3),
            }
            for m in fix.misclosures
        ],
        "rms_arcmin": number(fix.rms_arcsec / 60.0, 2),
    }


def _cuts(e: Evening) -> list[dict[str, Any]]:
    """Where the observer agreed that something had moved; it can be taken back."""
    out = []
    for slip in e.desk.slips:
        before = [s.sighting.star for s in e.sightings.used if s.id <= slip.after]
        since = [s.sighting.star for s in e.sightings.used if s.id > slip.after]
        if slip.told and not slip.nothing_moved and before and since:
            told = f"You said that something moved between {before[-1]} and {since[0]}."
            out.append({"after": slip.after, "sentence": told})
    return out


def _slip_notes(e: Evening) -> list[str]:
    if len(e.solved.parts) < 2 or e.slips.open is not None:
        return []
    return ["Solved anew from the sightings since something moved; the rest of the mount was kept."]


def map_of(fix: Fix, field_deg: float, rings: int = 9) -> list[dict[str, Any]]:
    """Hit chance over the sky, as cells of about equal size: (ring, cell) from 10 degrees up."""
    cells: list[tuple[float, float, float, float]] = []
    edges = np.linspace(10.0, 90.0, rings + 1)
    for low, high in itertools.pairwise(edges.tolist()):
        mid = (low + high) / 2.0
        n = max(4, round(48 * math.cos(math.radians(mid))))
        cells += [((k + 0.5) * 360.0 / n, mid, 360.0 / n, high - low) for k in range(n)]
    az, alt = np.array([c[0] for c in cells]), np.array([c[1] for c in cells])
    chance = fix.hit_chance(az, alt, field_deg)
    return [
        {
            "az_deg": number(c[0], 2),
            "alt_deg": number(c[1], 2),
            "d_az_deg": number(c[2], 2),
            "d_alt_deg": number(c[3], 2),
            "chance": number(float(p), 3),
        }
        for c, p in zip(cells, chance, strict=True)
    ]


def chances(e: Evening, az: Any, alt: Any) -> list[float | None]:
    """Hit chance at places (n,), radians; None without a fix."""
    if e.fix is None:
        return [None] * len(az)
    found = e.fix.hit_chance(np.degrees(az), np.degrees(alt), e.instrument.field_deg)
    return [number(float(p), 3) for p in found]
