"""The evening: the one object that changes. It owns the logbook, site, kit, fix and target.

Every action is a plain method; each runs on one worker thread, one after another, so there is
nothing to lock, and each commits to the logbook before it returns. What other threads read (the
aim, the picture) is frozen and replaced as a whole. The evening never touches the encoders, the
network or the clock of the system: readings and moments are handed to it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np

from plumbstar import guide, words
from plumbstar import kit as kits
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.fix import Fix, Noise, Priors
from plumbstar.kit import Eyepiece, Kit
from plumbstar.learn import Learnt
from plumbstar.logbook import Logbook, LoggedSighting, Outing, short
from plumbstar.sighting import Sighting
from plumbstar.sky import lookup
from plumbstar.sky.catalogue import Star
from plumbstar.sky.deepsky import DeepSky
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.skyline import Skyline
from plumbstar.web import kept
from plumbstar.web.aim import Aim, place_stop, reading_for, sun_sentence
from plumbstar.web.almanac import Almanac
from plumbstar.web.course import Course
from plumbstar.web.epochs import Part, solve_parts
from plumbstar.web.kept import Desk, Message, Miss, Sighted, Slip, Sweep

LearningKey = tuple[str, int | None]

SITE, KIT_TEXT = "site", "kit_toml"  # settings in the logbook
#: Messages kept on the screen; the oldest fall off.
MOST_MESSAGES = 6


def upper_first(text: str) -> str:
    """For a sentence that begins with words made for the middle of one."""
    return text[:1].upper() + text[1:]


def _fields(n: int) -> str:
    return "one field" if n == 1 else f"{n} fields"


def search(
    fix: Fix, az_deg: float, alt_deg: float, field_deg: float
) -> tuple[tuple[tuple[float, float], ...], tuple[float, ...]]:
    """The stops (right, up) of a search about a place where the target is not, and the chance of
    having seen it by each.

    The belief is that of after the miss: before it a good fix would see no ground worth a second
    look. The first stop is the field that was empty; the chances are of what lies outside it.
    """
    wiser = guide.not_in_field(fix, az_deg, alt_deg, field_deg)
    cov = wiser.pointing_covariance(np.radians(az_deg), np.radians(alt_deg))
    # A fix that left no room for a miss was wrong about its own sigma: at least half a field.
    values, axes = np.linalg.eigh(cov)
    cov = (axes * np.maximum(values, math.radians(field_deg / 2.0) ** 2)) @ axes.T
    path = guide.sweep(cov, field_deg, until=0.97)
    seen = path.found_by
    outside = max(1.0 - float(seen[0]), 1e-9)
    return (
        tuple((float(a), float(b)) for a, b in path.offsets_deg),
        tuple(float(x - seen[0]) / outside for x in seen),
    )


def log_name(target: Target) -> str:
    """The name for the log, by which it can be looked up again: a star's own, else the key."""
    if isinstance(target, DeepSky) and target.names:
        return target.names[0]
    return target.label if isinstance(target, Star) else target.key


class Evening:
    """See the module's head. ``now`` gives the evening's moment."""

    def __init__(
        self,
        book: Logbook,
        now: Callable[[], Instant],
        *,
        site: Site | None = None,
        kit_text: str | None = None,
        encoders: bool = True,
    ) -> None:
        self.book = book
        self.encoders = encoders
        self.now = now
        self.site: Site | None = None
        self.kit_text = ""
        self.kit = Kit()
        self.outing: Outing | None = None
        self.desk = Desk()
        self.skyline = Skyline()
        self.sightings: tuple[LoggedSighting, ...] = ()
        self.parts: tuple[Part, ...] = ()
        self.fix: Fix | None = None
        self.priors = Priors.from_kit(self.kit)
        self.learnt: Learnt | None = None
        self.learnt_for: LearningKey | None = None
        self.target: Target | None = None
        self.refused: str | None = None
        self.choice: dict[str, Any] | None = None
        self.choice_token = 0
        self.next_star: dict[str, Any] | None = None
        self.messages: tuple[Message, ...] = ()
        self.almanac: Almanac | None = None
        self.aim = Aim()
        self.loading = True
        self._course: Course | None = None
        self._said: tuple[Fix, Eyepiece, str, float] | None = None
        self._slip_began = -math.inf
        self._ids = itertools.count(1)
        self._seen_version = -1
        self._start(site, kit_text)

    # ---- coming up -------------------------------------------------------------------------

    def _start(self, site: Site | None, kit_text: str | None) -> None:
        """Everything back from the logbook; what the command line names goes before it."""
        self.outing = self.book.current_outing()
        saved_site = self.book.get_setting(SITE)
        text = kit_text if kit_text is not None else self.book.get_setting(KIT_TEXT)
        if text is None and self.outing is not None:
            text = self.outing.kit_text
        if site is None and self.outing is not None:
            site = self.outing.site
        if site is None and saved_site is not None:
            site = msgspec.convert(saved_site, Site)
        if text:
            self._take_kit(text)
        self._take_site(site)
        if kit_text is not None:
            self.book.set_setting(KIT_TEXT, kit_text)
        if site is not None:
            self._remember_site(site)
        self.reload()

    def reload(self) -> None:
        """Read the outing again: at the start, and when another program changed the logbook."""
        self.outing = self.book.current_outing()
        if self.outing is not None:
            raw = self.book.state(self.outing.id).get(kept.KEY)
            self.sightings = tuple(
                s for s in self.book.sightings(self.outing.id) if s.deleted is None
            )
        else:
            raw, self.sightings = self.book.get_setting(kept.KEY), ()
        self.desk = kept.load(raw)
        if (self.choice or {}).get("status") != "working":
            self.choice = self.desk.choice
        self._find_target()
        self.refit()
        self._seen_version = self.book.version()

    def changed_elsewhere(self) -> bool:
        """Whether another program wrote to the logbook since; then reload."""
        return self.book.version() != self._seen_version

    def _save(self, **changes: Any) -> None:
        """Change some of the desk and put it into the logbook."""
        self.desk = msgspec.structs.replace(self.desk, **changes)
        body = kept.dump(self.desk)
        if self.outing is not None:
            self.book.update_state(self.outing.id, **{kept.KEY: body})
        else:
            self.book.set_setting(kept.KEY, body)

    def settled(self) -> None:
        """An action is over: what is in the logbook now is our own doing."""
        self._seen_version = self.book.version()

    # ---- site, kit, skyline ----------------------------------------------------------------

    def _take_site(self, site: Site | None) -> None:
        self.site = site
        self.almanac = Almanac(site) if site is not None else None
        points = self.book.skyline(site) if site is not None else None
        self.skyline = Skyline(points) if points else Skyline()
        self._course = None

    def _remember_site(self, site: Site) -> None:
        body = msgspec.to_builtins(site)
        if self.book.get_setting(SITE) != body:
            self.book.set_setting(SITE, body)

    def _take_kit(self, text: str) -> None:
        self.kit = kits.loads(text)
        if not self.encoders:
            self.kit = msgspec.structs.replace(self.kit, connection=kits.Connection())
        self.kit_text = text
        self.learnt, self.learnt_for = None, None
        self.priors = Priors.from_kit(self.kit)

    def set_site(self, site: Site) -> None:
        """Where the telescope stands. Refused while sightings made elsewhere are in the outing."""
        self._begin_anew_or_refuse("site")
        self._take_site(site)
        self._remember_site(site)
        self._reopen()
        self.refit()

    def set_kit(self, text: str) -> None:
        """Another kit file's text. What the sightings depend on cannot change under them."""
        new = kits.loads(text)
        touches = (new.name, new.azimuth, new.altitude) != (
            self.kit.name,
            self.kit.azimuth,
            self.kit.altitude,
        )
        reopen = False
        if touches:
            reopen = self._begin_anew_or_refuse("telescope")
        self._take_kit(text)
        self.book.set_setting(KIT_TEXT, text)
        if reopen:
            self._reopen()
        self.refit()

    def _begin_anew_or_refuse(self, what: str) -> bool:
        """Clear the way for another site or kit. True if an empty outing must be opened again."""
        if self.outing is None:
            return False
        if self.sightings:
            raise UserError(
                f"another {what} in the middle of outing {self.outing.id}",
                "one for the whole outing, since its sightings were made with it",
                "End the outing first; the next one starts fresh",
            )
        return True

    def _reopen(self) -> None:
        """An outing without sightings: start it again, so that it names the right site and kit."""
        if self.outing is None:
            return
        old, self.outing = self.outing, None
        self.book.delete_outing(old.id)
        self.start_outing()

    @property
    def eyepiece(self) -> Eyepiece:
        """The eyepiece in use: the one chosen, else the widest."""
        if self.desk.eyepiece:
            for e in self.kit.eyepiece:
                if e.name == self.desk.eyepiece:
                    return e
        return self.kit.finder_eyepiece()

    @property
    def field_deg(self) -> float:
        """True field of the eyepiece in use, degrees."""
        return self.kit.true_field_deg(self.eyepiece)

    def set_eyepiece(self, name: str) -> None:
        """The eyepiece that is in the focuser now. A sweep was for the other one's field."""
        self._save(eyepiece=self.kit.eyepiece_named(name).name, sweep=None)
        self.refit()

    def set_skyline(self, text: str) -> None:
        """Obstructions as azimuth:altitude pairs, kept for this site."""
        line = Skyline.parse(text)
        self.book.set_skyline(self.need_site(), line.points)
        self.skyline = line
        self._new_aim()

    def need_site(self) -> Site:
        """The site. Raises UserError while there is none."""
        if self.site is None:
            raise UserError(
                "no site yet",
                "latitude and longitude",
                "Set the site first: without it no star can be placed",
            )
        return self.site

    # ---- outing ----------------------------------------------------------------------------

    def start_outing(self) -> Outing:
        """Begin an outing here and now. One in progress is kept as it is."""
        if self.outing is None:
            site = self.need_site()
            text = self.kit_text or kits.example_text()
            self.outing = self.book.start_outing(site, self.kit, text, self.now())
            self.sightings = ()
            # Plan and choice were made for tonight; slips and misses belong to sightings past.
            self._save(sweep=None, misses=(), slips=self._open_slip())
            self.refit()
        return self.outing

    def _open_slip(self) -> tuple[Slip, ...]:
        slip = self.slip
        return (slip,) if slip is not None else ()

    def end_outing(self) -> None:
        """Close it. The plan goes with it; the encoders' counts are kept."""
        outing = self._outing()
        self._give_up_sweep()
        self.book.end_outing(outing.id, self.now())
        old, self.outing, self.sightings = self.desk, None, ()
        self.desk = Desk()
        self._save(eyepiece=old.eyepiece, counts=old.counts)
        self.choice = None
        self.target = None
        self.refit()

    def _outing(self) -> Outing:
        if self.outing is None:
            raise UserError("no outing in progress", "one", "Start an outing first")
        return self.outing

    def confirm_filter(self, confirmed: bool) -> None:
        """A full-aperture solar filter is on (or off): only the observer can know."""
        outing = self.outing or self.start_outing()
        self.book.set_solar_filter(outing.id, confirmed)
        self.outing = self.book.outing(outing.id)
        self._new_aim()

    def note(self, text: str) -> None:
        """A remark for the log."""
        outing = self.outing or self.start_outing()
        self.book.add_note(outing.id, text[:4000], self.now())

    # ---- plan ------------------------------------------------------------------------------

    def star(self, name: str) -> Star:
        """The star of that name. Raises UserError with suggestions."""
        found = lookup.find_target(name)
        if not isinstance(found, Star):
            raise UserError(f"'{name}', which is no star", "a star", "Take a bright star")
        return found

    def pick(self, names: Sequence[str]) -> None:
        """Take these stars as the plan, in this order."""
        labels = tuple(dict.fromkeys(self.star(n).label for n in names[:12]))
        self._save(plan=labels, chosen=labels)

    def plan_add(self, name: str) -> None:
        """One more star, at the end of the plan."""
        label = self.star(name).label
        if label not in self.desk.plan:
            self._save(plan=(*self.desk.plan, label)[-12:])

    def plan_remove(self, name: str) -> None:
        """One star fewer."""
        wanted = name.strip().casefold()
        self._save(plan=tuple(p for p in self.desk.plan if p.casefold() != wanted))

    def choice_asked(self, size: int, utc: Instant) -> int:
        """The ranking was asked for; returns the token to hand it in with."""
        self.choice_token += 1
        self.choice = {"status": "working", "asked_utc": utc.iso(), "stars": size}
        return self.choice_token

    def choice_ready(self, token: int, choice: dict[str, Any]) -> None:
        """The ranking is done; an older one than was last asked for is dropped."""
        if token == self.choice_token:
            self.choice = choice
            self._save(choice=choice)

    # ---- sightings -------------------------------------------------------------------------

    def known_press(self, press: str) -> int | None:
        """The id of the sighting that this press of a button made, if it came before."""
        # The logbook answers this itself when it adds; asked beforehand, an old press that comes
        # again needs no reading, which may be long gone.
        rows = self.book._rows("SELECT id FROM sightings WHERE request = ?", (press,))
        return int(rows[0][0]) if rows else None

    def sight(self, name: str, reading: Reading, utc: Instant, press: str) -> Sighted:
        """A star (or any target) is centred: save it, then solve. On disk before it returns."""
        return self._sight(lookup.find_target(name), name, reading, utc, press)

    def _sight(
        self, target: Target, typed: str, reading: Reading, utc: Instant, press: str
    ) -> Sighted:
        again = self.known_press(press)
        if again is not None:
            return Sighted(again, True, self.residual_arcmin(again))
        site = self.need_site()
        az, alt = place_of(target, utc, site)
        if alt < -1.0:
            raise UserError(
                f"{target.label}, which is {-alt:.0f} degrees below the horizon",
                "a star that is up",
                "Check which star it was, the site, and the computer's clock (UTC)",
            )
        outing = self.start_outing()
        reading_az, reading_alt = reading.degrees()
        fact = Sighting(log_name(target), az, alt, reading_az, reading_alt, utc, self.eyepiece.name)
        counts = (
            (reading.az_count, reading.alt_count)
            if reading.az_count is not None and reading.alt_count is not None
            else None
        )
        origin = "typed" if reading.state == "typed" else "encoders"
        sighting_id = self.book.add_sighting(
            outing.id,
            fact,
            "typed" if origin == "typed" else "encoders",
            counts,
            typed=typed[:80],
            request=press,
        )
        self._read_sightings()
        slip = self.desk.slips[-1] if self.desk.slips else None
        if slip is not None and origin == "encoders" and reading.at_monotonic < self._slip_began:
            # A press from before the slip that came late: the slip is still open.
            late = msgspec.structs.replace(slip, after=sighting_id)
            self._save(slips=(*self.desk.slips[:-1], late))
        self.refit(log=True)
        return Sighted(sighting_id, False, self.residual_arcmin(sighting_id))

    def _read_sightings(self) -> None:
        if self.outing is not None:
            self.sightings = self.book.sightings(self.outing.id)

    def _mine(self, sighting_id: int) -> LoggedSighting:
        for s in self.sightings:
            if s.id == sighting_id:
                return s
        raise UserError(f"sighting {sighting_id}", "one of this outing", "Reload the page")

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave a sighting out of the fix, saying why."""
        self.book.set_aside(self._mine(sighting_id).id, reason[:200] or "by the observer")
        self._read_sightings()
        self.refit(log=True)

    def restore(self, sighting_id: int) -> None:
        """Use it again."""
        self.book.put_back(self._mine(sighting_id).id)
        self._read_sightings()
        self.refit(log=True)

    def delete_sighting(self, sighting_id: int) -> None:
        """Take it out of the log; undo brings it back."""
        self.book.delete_sighting(self._mine(sighting_id).id)
        self._read_sightings()
        self.refit(log=True)

    @property
    def undoable(self) -> str | None:
        """What pressing undo would take back, in words."""
        if self.outing is None:
            return None
        for change in self.book.history(60):
            if change.outing_id == self.outing.id and not change.undone:
                return change.what if not change.what.startswith("end of") else None
        return None

    def undo(self) -> None:
        """Take back the last thing done in this outing. Its start is not undone."""
        outing = self._outing()
        what = self.undoable
        if what is None:
            raise UserError("nothing to undo", "something done before", "Nothing was changed")
        self.book.undo(outing.id)
        # "Here, centred" made a sighting and a find of one press: one undo takes back both.
        partner = self.undoable
        if (
            what.startswith("the find of ")
            and partner == f"a sighting of {what.removeprefix('the find of ')}"
        ):
            self.book.undo(outing.id)
        self._read_sightings()
        self.refit(log=True)
        self.say(f"Taken back: {what}.", "info")

    def redo(self) -> None:
        """Bring back the last undo."""
        change = self.book.redo(self._outing().id)
        if change is None:
            raise UserError("nothing to bring back", "an undo just before", "Nothing was changed")
        self._read_sightings()
        self.refit(log=True)
        self.say(f"Brought back: {change.what}.", "info")

    # ---- slips -----------------------------------------------------------------------------

    @property
    def slip(self) -> Slip | None:
        """The last possible slip that no sighting has settled yet."""
        for slip in reversed(self.desk.slips):
            if slip.nothing_moved:
                continue
            return None if any(s.id > slip.after for s in self.used) else slip
        return None

    def slipped(self, why: str, monotonic: float) -> None:
        """The encoders report a possible slip, seen at that moment of the steady clock.

        It blocks nothing; a sighting settles it.
        """
        open_slip = self.slip
        if open_slip is not None and open_slip.why == why:
            return
        az, alt = "azimuth" in why, "altitude" in why
        axes = ("azimuth",) * (az or not alt) + ("altitude",) * (alt or not az)
        # Deleted ones counted in: undo may bring one back, and it came before.
        made = self.book.sightings(self.outing.id, deleted=True) if self.outing else ()
        slip = Slip(max((s.id for s in made), default=0), axes, why)
        self._slip_began = monotonic
        self._save(slips=(*self.desk.slips, slip)[-20:])
        self.refit()

    def nothing_moved(self) -> None:
        """The observer is sure that the zeros still hold: keep them."""
        if self.slip is None:
            raise UserError("no slip to answer", "a possible slip on the screen", "Nothing to do")
        slips = tuple(
            msgspec.structs.replace(s, nothing_moved=True) if s is self.slip else s
            for s in self.desk.slips
        )
        self._save(slips=slips)
        self.refit()

    # ---- the fix ---------------------------------------------------------------------------

    @property
    def used(self) -> tuple[LoggedSighting, ...]:
        """The sightings that the observer has not set aside."""
        return tuple(s for s in self.sightings if s.active)

    def take_learnt(self, learnt: Learnt, key: LearningKey) -> None:
        """What past outings teach, worked out beside the evening: solve again with it."""
        self.learnt, self.learnt_for = learnt, key
        self.priors = learnt.priors
        self.refit()

    @property
    def learning_key(self) -> LearningKey:
        """For what the learnt priors must have been worked out: the kit and the outing."""
        return (self.kit_text, self.outing.id if self.outing is not None else None)

    def _cuts(self) -> list[tuple[int, tuple[str, ...]]]:
        """Where the slips cut the used sightings: how many came before each, and the circles."""
        real = [s for s in self.desk.slips if not s.nothing_moved]
        return [(sum(s.id <= slip.after for s in self.used), slip.axes) for slip in real]

    def refit(self, log: bool = False) -> None:
        """Solve again from the sightings; then everything that hangs on the fix."""
        used = self.used
        facts = [s.sighting for s in used]
        self.fix, self.parts = None, ()
        if facts:
            try:
                self.parts = solve_parts(facts, self.priors, Noise.from_kit(self.kit), self._cuts())
                self.fix = self.parts[-1].fix
            except UserError as e:  # the sightings are safe; the screen says why there is no fix
                self.say(str(e), "problem")
        if self.fix is not None:
            for miss in self._misses():
                self.fix = guide.not_in_field(self.fix, miss.az_deg, miss.alt_deg, miss.field_deg)
        if log and self.fix is not None and self.outing is not None:
            body = {"sentence": self.fix_words()[0], **self.fix.to_dict()}
            self.book.add_fix(self.outing.id, body, self.now())
        self.next_star = None
        self._new_aim()

    def fix_words(self) -> tuple[str, float]:
        """The fix in a sentence, and its mean hit chance; worked out once for each."""
        assert self.fix is not None
        said = self._said
        if said is None or said[0] is not self.fix or said[1] != self.eyepiece:
            sentence = words.fix_sentence(self.fix, self.field_deg, self.eyepiece.name)
            mean = self.fix.mean_hit_chance(self.field_deg)
            said = self._said = (self.fix, self.eyepiece, sentence, mean)
        return said[2], said[3]

    @property
    def _basis(self) -> tuple[int, ...]:
        """What the fix is made of."""
        return tuple(s.id for s in self.used)

    def _misses(self) -> tuple[Miss, ...]:
        """Misses made with the present fix. Another sighting puts what they told to the test, and
        the fix that they were counted against is gone."""
        return tuple(m for m in self.desk.misses if m.basis == self._basis)

    def residual_arcmin(self, sighting_id: int) -> float | None:
        """How far the sighting lies from the fix of its part of the evening."""
        for k, s in enumerate(self.used):
            if s.id == sighting_id:
                for part in self.parts:
                    if k in part.indices:
                        r = part.fix.residuals[part.indices.index(k)]
                        return float((r @ r) ** 0.5) * 3437.746770784939  # arcmin in a radian
        return None

    def put_aside_by_fix(self) -> dict[int, str]:
        """Sightings that the fix itself leaves out: id -> why."""
        used = self.used
        return {
            used[part.indices[i]].id: "contradicts the others: wrong star, or not centred?"
            for part in self.parts
            for i in part.fix.set_aside
        }

    # ---- target, push, sweep ---------------------------------------------------------------

    def _find_target(self) -> None:
        self.target = None
        if self.desk.target:
            try:
                self.target = lookup.find_target(self.desk.target)
            except UserError:
                self.target = None
        self._course = None

    def set_target(self, name: str) -> None:
        """What to push to. The Sun may forbid it: then it is set, refused, and freed at night."""
        self.need_site()
        target = lookup.find_target(name)
        if target.label == "Sun":
            raise UserError(
                "the Sun as a target",
                "anything else",
                "This program never guides to the Sun. With a full-aperture filter fitted, find it "
                "by the shadow of the tube",
            )
        self._give_up_sweep()
        self.target, self._course = target, None
        self._save(target=target.key, sweep=None)
        self._new_aim()

    def clear_target(self) -> None:
        """Nothing to push to."""
        self._give_up_sweep()
        self.target, self._course = None, None
        self._save(target="", sweep=None)
        self._new_aim()

    def _guided(self) -> tuple[Target, Fix, Course]:
        if self.target is None or self._course is None:
            raise UserError("no target", "something to push to", "Choose a target first")
        if self.refused is not None:
            raise UserError(self.refused, "a safe target", "Choose another, or wait")
        if self.fix is None:
            raise UserError("no fix yet", "one sighting or more", "Centre a bright star first")
        return self.target, self.fix, self._course

    @property
    def sweep(self) -> Sweep | None:
        """The search under way, unless the fix has changed since: then it led elsewhere."""
        sweep = self.desk.sweep
        if sweep is None or self.target is None or sweep.target != self.target.key:
            return None
        return sweep if sweep.basis == self._basis else None

    def here_centred(self, reading: Reading, utc: Instant, press: str) -> Sighted:
        """The target is in the middle of the field: as good as a star sighted, and a find."""
        if self.target is None:
            raise UserError("no target", "something to push to", "Choose a target first")
        target, fix, course = self.target, self.fix, self._course
        done = self._sight(target, target.label, reading, utc, press)
        if not (done.again or self.outing is None or fix is None or course is None):
            az, alt = reading.degrees()
            near = reading_for(fix, course.direction(utc), az)
            self.book.add_find(
                self.outing.id,
                log_name(target),
                utc,
                near,
                (az, alt),
                self.field_deg / 2.0,
                self.eyepiece.name,
                request=press,
            )
            self._save(sweep=None)
            self._new_aim()
        return done

    def not_in_field(self) -> None:
        """Not here: what that teaches goes into the fix, and the search starts or goes on."""
        target, fix, course = self._guided()
        now = self.now()
        sweep = self.sweep
        if sweep is None:
            az, alt = course.az_alt_deg(now)
            stops, found_by = search(fix, az, alt, self.field_deg)
            sweep = Sweep(self._basis, target.key, 0, stops, found_by)
            miss = Miss(short(now), self._basis, target.key, az, alt, self.field_deg)
            misses = (*self._misses(), miss)[-20:]
        else:
            misses = self.desk.misses
        index = sweep.index + 1
        if index >= len(sweep.stops):
            self._log_not_found(target, now)
            self.say(
                f"{target.label}: {_fields(len(sweep.stops))} searched and not found. Sight a "
                "bright star near it, then try again; or it is too faint for tonight.",
                "problem",
            )
            self._save(sweep=None, misses=misses)
        else:
            self._save(sweep=msgspec.structs.replace(sweep, index=index), misses=misses)
        self.refit()

    def _log_not_found(self, target: Target, utc: Instant) -> None:
        if self.outing is None or self.fix is None or self._course is None:
            return
        near = reading_for(self.fix, self._course.direction(utc), 180.0)
        self.book.add_find(
            self.outing.id,
            log_name(target),
            utc,
            near,
            None,
            self.field_deg / 2.0,
            self.eyepiece.name,
        )

    def _give_up_sweep(self) -> None:
        """Leaving a search unfinished is a "not found" for the log."""
        if self.sweep is not None and self.target is not None:
            self._log_not_found(self.target, self.now())

    # ---- what hangs on it ------------------------------------------------------------------

    def _new_aim(self) -> None:
        """A fresh frozen aim for the stream, and the Sun's word on it."""
        if self.site is None or self.almanac is None:
            self.aim, self.refused = Aim(), None
            return
        if self.target is not None and self._course is None:
            self._course = Course(self.target, self.site)
        course = self._course if self.target is not None else None
        sweep = self.sweep
        aim = Aim(
            fix=self.fix,
            course=course,
            sun=self.almanac.sun,
            field_deg=self.field_deg,
            push_seconds=self.kit.push_seconds,
            filter_confirmed=bool(self.outing is not None and self.outing.solar_filter),
            stop_deg=sweep.stops[sweep.index] if sweep is not None else None,
        )
        self.refused = sun_sentence(aim, course, self.now()) if course is not None else None
        self.aim = replace(aim, refused=self.refused is not None)

    def look_at_sun(self) -> bool:
        """Ask again whether the Sun forbids the target. True if the answer has changed."""
        if self._course is None or self.target is None:
            return False
        if (sun_sentence(self.aim, self._course, self.now()) is None) == (self.refused is None):
            return False
        self._new_aim()
        return True

    def goal(self, now: Instant, near_az_deg: float) -> tuple[float, float] | None:
        """The reading of the present stop of a sweep, or of the target, degrees."""
        if self.fix is None or self._course is None or self.refused is not None:
            return None
        direction = place_stop(self._course.direction(now), self.aim.stop_deg)
        return reading_for(self.fix, direction, near_az_deg)

    def target_now(self, now: Instant) -> tuple[Course, float, float] | None:
        """The target's course and its place at that moment, degrees."""
        if self.target is None or self._course is None:
            return None
        return (self._course, *self._course.az_alt_deg(now))

    # ---- messages --------------------------------------------------------------------------

    def say(self, text: str, kind: str) -> None:
        """Put a sentence on every screen; the same one again replaces itself."""
        rest = tuple(m for m in self.messages if m.text != text)
        fresh = Message(f"m{next(self._ids)}", upper_first(text), kind)
        self.messages = (*rest, fresh)[-MOST_MESSAGES:]

    def dismiss(self, message_id: str) -> None:
        """Take a message off."""
        self.messages = tuple(m for m in self.messages if m.id != message_id)

    def keep_counts(self, counts: tuple[Any, ...] | None) -> None:
        """What the encoders need to carry on after a restart. Saved only when it has changed."""
        if counts is not None and counts != self.desk.counts:
            self._save(counts=counts)
