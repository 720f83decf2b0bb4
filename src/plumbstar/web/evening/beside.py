"""Actions beside a closed controller: its taps and what it shows, and what follows from them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from plumbstar.controller.believed import Believed
from plumbstar.controller.evening import asked_with, object_places, places
from plumbstar.controller.landing import FEW_STARTS
from plumbstar.controller.nearest import nearest_known
from plumbstar.controller.one import MistakenStar
from plumbstar.controller.outlook import Outlook, outlook
from plumbstar.controller.ranking import over_the_sky, promise
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.controller.wrong_star import likeliest_star
from plumbstar.diagnose.nights import evening_of, taught_by_nights
from plumbstar.errors import UserError
from plumbstar.guide.searching import fields
from plumbstar.guide.sweep import sweep
from plumbstar.kit import Controller, Eyepiece, edit
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.places import log_name
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target, place_rad
from plumbstar.sky.times import Instant
from plumbstar.text.words import chance
from plumbstar.web.evening.observing import BY_DAY
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.plan import star_named
from plumbstar.web.evening.preparing import Preparing
from plumbstar.web.evening.push_on import PushOn

#: How slow a hand the page reckons with, seconds from the first star to the second.
SLOW_S = 120.0
CLOCK_COSTS_NOTHING = "The controller has a clock: slow hands cost nothing."


_FINDS = (ChangeKind.FOUND, ChangeKind.NOT_FOUND)


class Beside:
    """The entries are ``display`` among the parts; what they come to is worked out once."""

    def __init__(self, parts: Parts, outings: Outings, preparing: Preparing) -> None:
        self._p, self._outings, self._preparing = parts, outings, preparing
        self._made: tuple[object, Outlook | None] = (None, None)
        self._means: tuple[object, dict[float, tuple[float, float]]] = (None, {})
        self._promised: tuple[object, tuple[float, float, float]] = (None, (0.0, 0.0, 0.0))
        self._mistaken: tuple[object, dict[int, MistakenStar | None]] = (None, {})
        self._nights: tuple[object, Believed | None] = (None, None)

    @property
    def in_use(self) -> bool:
        """Whether the kit has a closed controller."""
        return self._p.instrument.kit.connection.kind == "controller"

    # ---- the kit, by ticks -----------------------------------------------------------------

    def set_controller(
        self,
        stars: list[str],
        clock: str,
        sign: str,
        decimals: int,
        catalogues: Sequence[str] | None = None,
    ) -> None:
        """What is known of it. Raises UserError for a star that nothing is called."""
        labels = tuple(dict.fromkeys(star_named(n).label for n in stars))
        known: dict[str, bool] = {"yes": True, "no": False}
        now = self._p.instrument
        ticked: dict[str, object] = {
            "stars": labels,
            "clock": known.get(clock, "unknown"),
            "sign": sign,
            "decimals": decimals,
        }
        if catalogues is not None:
            ticked["catalogues"] = list(catalogues)
        box = msgspec.convert({**msgspec.to_builtins(now.kit.controller), **ticked}, Controller)
        self._preparing.set_kit(edit.with_controller(now.kit_text, now.kit, box))

    def leave_controller(self) -> None:
        """The readings are typed or heard again."""
        now = self._p.instrument
        self._preparing.set_kit(edit.without_controller(now.kit_text, now.kit))

    def set_telescope(
        self, aperture_mm: float, focal_length_mm: float, eyepieces: list[Eyepiece]
    ) -> None:
        """The tube's two measures and the eyepieces."""
        text = self._p.instrument.kit_text
        self._preparing.set_kit(edit.with_telescope(text, aperture_mm, focal_length_mm, eyepieces))

    # ---- what was pressed and typed --------------------------------------------------------

    def enter(self, entry: DisplayEntry) -> None:
        """Save it. Raises UserError for what cannot be; one that came before changes nothing."""
        if self._p.display.known(entry.press):
            return
        if entry.event in ("star", "centred", "missed"):
            entry = self._checked(entry)
        if entry.event in ("number", "centred", "missed") and len(self._p.display.stars) < 2:
            raise UserError(
                "The controller has not been told two stars yet", "", "Centre both stars first"
            )
        _check_shown(entry)
        of_object = entry.event in ("centred", "missed")
        entry = self._with_promise(entry) if of_object else entry
        self._outings.start()
        self._p.display.add(entry)
        if of_object:
            self._log_find(entry)
            self._p.keeper.change(sweep=None)

    def _checked(self, entry: DisplayEntry) -> DisplayEntry:
        """By its name in the log, and not toward the Sun."""
        target = lookup.find_target(entry.star)
        if entry.event == "star" and not isinstance(target, Star):
            raise UserError(f"'{entry.star}' is no star", "", "Take a star of its list")
        site = self._p.ground.need_site()
        az, alt = np.degrees(place_rad(target, entry.utc, site))
        if entry.event != "missed":
            field = self._p.instrument.field_deg
            place = (float(az), float(alt))
            if self._p.guidance.check_sighting(target, place, entry.utc, field):
                self._p.messages.say(BY_DAY, "problem")
        name = log_name(target)
        if entry.event == "star" and [s.star for s in self._p.display.stars] == [name]:
            raise UserError(f"The first star was {name}, too", "", "Centre the other one")
        chosen = log_name(lookup.find_target(entry.chosen)) if entry.chosen else ""
        chosen = "" if chosen == name else chosen
        return msgspec.structs.replace(entry, star=name, chosen=chosen)

    def _with_promise(self, entry: DisplayEntry) -> DisplayEntry:
        """With what was promised of its push on, and whether it was kept; not of the look back."""
        stars, centred = self._p.display.stars, self._p.display.centred
        if not centred and entry.star == stars[-1].star:
            return entry
        on = self.push_on(lookup.find_target(entry.star), entry.utc)
        return entry if on is None else on.promised_to(entry, self._p.instrument.field_deg)

    def _log_find(self, entry: DisplayEntry) -> None:
        """Objects looked for are in the log as with every telescope: here in the sky's own
        azimuth and altitude, since there are no readings."""
        if entry is self._p.display.look_back:
            return
        outing = self._p.current.need()
        target = lookup.find_target(entry.star)
        az, alt = np.degrees(place_rad(target, entry.utc, self._p.ground.need_site()))
        place = (float(az), float(alt))
        found = place if entry.event == "centred" else None
        self._p.book.add_find(
            outing.id, entry.star, entry.utc, place, found, self._p.instrument.field_deg / 2.0,
            self._p.instrument.eyepiece.name, request=entry.press,
        )  # fmt: skip

    def undo(self) -> bool:
        """Take the last find back where that is what undo would take out of the log, so that the
        log and what the pushes go by stay one. False: it is for the evening's own undo."""
        change = self._p.sightings.undoable
        last = self._p.display.entries[-1:]
        if change is None or not last or change.kind not in _FINDS or change.about != last[0].star:
            return False
        self.take_back()
        return True

    def take_back(self) -> None:
        """The last of them, gone."""
        last = self._p.display.take_back()
        if last is None:
            raise UserError("Nothing has been entered yet", "", "There is nothing to take back")
        change = self._p.sightings.undoable
        of_find = last.event in ("centred", "missed")
        if of_find and change is not None and change.kind in _FINDS and change.about == last.star:
            self._p.sightings.undo()
        self._p.messages.say(f"Taken back: {entry_words(last)}.", "info")

    def give_up(self) -> None:
        """A search that is left unfinished did not find its target, and the log says so."""
        target, path = self._p.guidance.target, self._p.search.under_way
        if self.in_use and target is not None and path is not None:
            self._missed(target, path.stops[: path.index])

    def _given_up(self, target: Target) -> bool:
        """Whether it was searched for to the end since it was chosen, and nothing came after."""
        before, finds = self._p.keeper.desk.came_before, self._p.display.finds
        last = finds[-1] if finds else None
        return (
            last is not None
            and (last.event, last.star) == ("missed", log_name(target))
            and last.press not in before
        )

    def _missed(self, target: Target, stops: tuple[tuple[float, float], ...]) -> None:
        """Saved with the fields that were looked at: the next push has learnt from it."""
        now = self._p.now().to_unix()
        name, on = log_name(target), self.push_on(target)
        entry = DisplayEntry(f"missed-{name}-{round(now)}", now, "missed", name)
        if on is not None:
            across = max(0.02, math.cos(on.alt))
            az, alt = (math.degrees(float(x)) for x in on.push)
            looked = tuple((round(az + r / across, 3), round(alt + u, 3)) for r, u in stops)
            entry = msgspec.structs.replace(
                entry, chosen=log_name(on.start), looked=looked,
                field_deg=round(self._p.instrument.field_deg, 4),
            )  # fmt: skip
        self.enter(entry)

    def not_here(self) -> None:
        """Not in this field: on along the search path; past its last field it was not found."""
        target = self._p.guidance.target
        on = self.push_on()
        if target is None or on is None:
            raise UserError("No target is chosen", "", "Choose a target first")
        path = self._p.search.under_way
        if path is None and self._given_up(target):
            return  # a tap too many after the last field; chosen again it is searched for again
        if path is None:
            field = self._p.instrument.field_deg
            # What was not there is not where it was thought: at least half a field of doubt.
            values, axes = np.linalg.eigh(on.lies.cov)
            wide = (axes * np.maximum(values, math.radians(field / 2.0) ** 2)) @ axes.T
            allowed = self._p.guidance.allowed_stops()
            cloud = np.degrees(on.lies.cloud) if on.lies.cloud is not None else None
            way = sweep(wide, field, until=0.97, allowed=allowed, cloud_deg=cloud)
            outside = max(1.0 - float(way.found_by[0]), 1e-9)
            self._p.search.begin(
                target,
                tuple((float(a), float(b)) for a, b in way.offsets_deg),
                tuple(float(x - way.found_by[0]) / outside for x in way.found_by),
            )
            return
        path = msgspec.structs.replace(path, index=path.index + 1)
        if not path.over:
            self._p.search.take(path, ())
            return
        self._missed(target, path.stops)
        self._p.messages.say(
            f"{target.label}: {fields(len(path.stops))} searched and not found. "
            "It is in the log. Choose a brighter one near it, centre that, and try again.",
            "problem",
            of_target=True,
        )

    # ---- what it comes to ------------------------------------------------------------------

    def taken_for(self, which: int) -> MistakenStar | None:
        """Which star may have been centred for the first or the second, by the number."""
        seen, site = self.outlook, self._p.ground.site
        evening = evening_of(self._p.display.alignment)
        if seen is None or site is None or evening is None or evening.number_deg is None:
            return None
        if self._mistaken[0] is not seen:
            self._mistaken = (seen, {})
        if which not in self._mistaken[1]:
            stars = tuple((s.target, s.at) for s in (evening.first, evening.second))
            told = likeliest_star(evening.number_deg, stars, which, site, seen.asked)
            self._mistaken[1][which] = told
        return self._mistaken[1][which]

    @property
    def outlook(self) -> Outlook | None:
        """What the two stars and all that was shown since come to; None before the second star."""
        site, stars = self._p.ground.site, self._p.display.stars
        if site is None or len(stars) < 2 or not self.in_use:
            return None
        priors = self._p.instrument.priors
        mends = self._p.instrument.mends
        key = (self._p.display.alignment, self._p.instrument.kit, priors.key, site, mends)
        evening = evening_of(self._p.display.alignment)
        if self._made[0] != key and evening is not None:
            asked = asked_with(evening, site, self._p.instrument.kit, priors)
            self._made = (key, outlook(self.believed.before(asked)))
        return self._made[1]

    @property
    def believed(self) -> Believed:
        """What is believed before tonight: as earlier nights beside this controller teach it."""
        kit, priors = self._p.instrument.kit, self._p.instrument.priors
        outing = self._p.current.outing
        here = outing.id if outing is not None else None
        key = (kit, priors.key, here, self._p.instrument.mends)
        if self._nights[0] != key:
            taught = taught_by_nights(self._p.book, kit, priors, here)
            self._nights = (key, taught[0] if taught is not None else None)
        return self._nights[1] or Believed(priors)

    def mean_chances(self, field_deg: float | None = None) -> tuple[float, float]:
        """Mean chances over the sky, at the controller's zero and pushed on; nought before.
        ``field_deg``: of another eyepiece than the one in use."""
        seen, field = self.outlook, field_deg or self._p.instrument.field_deg
        if seen is None:
            return 0.0, 0.0
        if self._means[0] is not seen:
            self._means = (seen, {})
        told = self._means[1]
        if field not in told:
            sky = over_the_sky()
            found = seen.lies(ObjectPlaces(sky, sky), field, FEW_STARTS)
            zero = float(np.mean([x.hit_chance_at_zero for x in found]))
            told[field] = (zero, float(np.mean([x.hit_chance for x in found])))
        return told[field]

    def promised(self) -> tuple[float, float, float] | None:
        """Mean chances of the two chosen stars over the sky: at the zero, at the zero with slow
        hands and no clock, and pushed on. None before there are two, or while one is down."""
        site, names, kit = self._p.ground.site, self._p.plan.names[:2], self._p.instrument.kit
        if site is None or len(names) < 2:
            return None
        now = self._p.now()
        a, b = (star_named(n) for n in names)
        key = (names, site, kit, self._p.instrument.field_deg, round(now.to_unix() / 900.0))
        if self._promised[0] != key:
            soon = now.plus_seconds(SLOW_S)
            at_once, one_by_one, late = (
                places([a, b], list(moments), site, False)
                for moments in ((now, now), (now, soon), (soon, soon))
            )
            rest = (
                over_the_sky(), self.believed, math.radians(kit.centring_arcmin / 60.0),
                self._p.instrument.field_deg, math.radians(kit.controller.step_deg),
            )  # fmt: skip
            good, on = promise(at_once, *rest)
            slow, _ = promise(one_by_one, *rest, late=late[0])
            self._promised = (key, (good, slow, on))
        return self._promised[1]

    def slow_hands(self) -> str:
        """What two minutes between the two stars would cost tonight, with this pair."""
        clock = self._p.instrument.kit.controller.has_clock
        if clock:
            return CLOCK_COSTS_NOTHING
        promised = self.promised()
        return slow_words(*promised[:2], clock is None) if promised is not None else ""

    def push_on(self, target: Target | None = None, at: Instant | None = None) -> PushOn | None:
        """From the controller's zero to the target, now or then; None without stars, site or
        target."""
        target = target or self._p.guidance.target
        seen, site = self.outlook, self._p.ground.site
        if seen is None or target is None or site is None:
            return None
        now = at or self._p.now()
        field = self._p.instrument.field_deg
        start = nearest_known(target, self._p.instrument.kit.controller, site, now)
        # Where the target is, and what the controller believes of the object chosen in its place.
        there, chosen = (object_places([x], now, site) for x in (target, start))
        (lies,) = seen.lies(ObjectPlaces(there.seen, chosen.believed), field)
        return PushOn(target, start, lies.push, lies, float(there.seen[0, 1]))


def slow_words(quick: float, slow: float, unknown: bool) -> str:
    """The price of slow hands, so that one knows whether to hurry."""
    whose = "If the controller has no clock, two" if unknown else "Two"
    if quick - slow < 0.02:
        return f"{whose} minutes between the stars cost nothing worth the hurry, with this pair."
    return (
        f"{whose} minutes between the stars leave {chance(slow)} objects in the field at its zero, "
        f"instead of {chance(quick)}. Your taps are timed, so the push on allows for it."
    )


def entry_words(e: DisplayEntry) -> str:
    """What it was, for "take back"."""
    words = {
        "upright": "tube on the stop", "star": e.star, "number": "the number",
        "centred": f"{e.star}, centred", "missed": f"{e.star}, not found",
    }  # fmt: skip
    return words[e.event]


def _check_shown(e: DisplayEntry) -> None:
    """Refuse what no display shows. Raises UserError."""
    if e.event == "number" and e.number_deg is None:
        raise UserError("No number was sent", "", "Type the number that the controller shows")
    if e.event == "centred" and (e.left_az_deg is None or e.left_alt_deg is None):
        raise UserError("One of the two numbers is missing", "", "Type both that it still shows")
    for what, x, most in (
        ("the number", e.number_deg, 90.0),
        ("what is left to push sideways", e.left_az_deg, 180.0),
        ("what is left to push up or down", e.left_alt_deg, 90.0),
    ):
        if x is not None and not (math.isfinite(x) and abs(x) <= most):
            raise UserError(
                f"{what}, {x:g}", f"degrees from -{most:g} to {most:g}", "Read the display again"
            )
