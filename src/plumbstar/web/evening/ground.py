"""The ground the evening stands on: site, kit, skyline, outing, and what is kept of the rest.

The lowest of three layers, each a class: the ground, what was observed on it (observed.py), and
where to push next (evening.py). Their head is in evening.py.
"""

from __future__ import annotations

import itertools
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

import msgspec

from plumbstar import kit as kits
from plumbstar.diagnose.learn import Learnt
from plumbstar.errors import UserError
from plumbstar.kit import Eyepiece, Kit
from plumbstar.logbook import Logbook, LoggedSighting, Outing
from plumbstar.logbook.slips import DESK, Slip
from plumbstar.mount.priors import Priors
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.text.words import upper_first
from plumbstar.web.evening import kept
from plumbstar.web.evening.almanac import Almanac
from plumbstar.web.evening.kept import Desk, Message
from plumbstar.web.evening.timing import Timing

LearningKey = tuple[str, int | None]

SITE, KIT_TEXT, COUNTS = "site", "kit_toml", "encoder_counts"  # settings in the logbook
#: Messages kept on the screen; the oldest fall off.
MOST_MESSAGES = 6


def same_place(a: Site, b: Site) -> bool:
    """Whether sightings made at the one hold for the other: only names and the like differ."""
    return (a.lat_deg, a.lon_deg, a.elevation_m, a.pressure, a.temperature_c) == (
        b.lat_deg, b.lon_deg, b.elevation_m, b.pressure, b.temperature_c
    )  # fmt: skip


class Ground(ABC):
    """Site, kit, outing and desk, each change of them in the logbook before a method returns."""

    def __init__(self, book: Logbook, now: Callable[[], Instant], encoders: bool) -> None:
        self.book = book
        self.now = now
        #: What is known of the clock; None where the moments are beyond doubt.
        self.timing: Timing | None = None
        self.encoders = encoders
        self.site: Site | None = None
        self.almanac: Almanac | None = None
        self.skyline = Skyline()
        self.kit = Kit()
        self.kit_text = ""
        self.priors = Priors.from_kit(self.kit)
        self.learnt: Learnt | None = None
        self.learnt_for: LearningKey | None = None
        self.outing: Outing | None = None
        self.sightings: tuple[LoggedSighting, ...] = ()
        self.desk = Desk()
        self.choice: dict[str, Any] | None = None
        self.messages: tuple[Message, ...] = ()
        self.loading = True
        self._counts: kept.Counts | None = None
        self._ids = itertools.count(1)
        self._seen_elsewhere = -1

    # What the layers above do when the ground changes.

    @property
    @abstractmethod
    def slip(self) -> Slip | None:
        """The possible slip that is still open."""

    @abstractmethod
    def refit(self, log: bool = False) -> None:
        """Solve again, and everything that hangs on it."""

    @abstractmethod
    def new_aim(self) -> None:
        """What the stream is to push to has changed."""

    @abstractmethod
    def leave_target(self) -> None:
        """The target is given up."""

    # ---- the logbook -----------------------------------------------------------------------

    def changed_elsewhere(self) -> bool:
        """Whether another program wrote to the logbook since; then reload."""
        return self.book.elsewhere() != self._seen_elsewhere

    def _save(self, **changes: Any) -> None:
        """Change some of the desk and put it into the logbook."""
        self.desk = msgspec.structs.replace(self.desk, **changes)
        body = kept.dump(self.desk)
        if self.outing is not None:
            self.book.update_state(self.outing.id, **{DESK: body})
        else:
            self.book.set_setting(DESK, body)

    # ---- site, kit, skyline ----------------------------------------------------------------

    def _take_site(self, site: Site | None) -> None:
        self.site = site
        self.almanac = Almanac(site) if site is not None else None
        points = self.book.skyline(site) if site is not None else None
        self.skyline = Skyline(points) if points else Skyline()

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
        """Where the telescope stands. Refused while sightings made elsewhere are in the outing.

        One with a name is kept under it, for other evenings. The same place under another name
        takes its skyline along, and may be said at any time.
        """
        here = self.site is not None and same_place(self.site, site)
        if not here:
            self._begin_anew_or_refuse("site")
        if site.name:
            site = self.book.keep_site(site)
        if here and self.skyline.points and self.book.skyline(site) is None:
            self.book.set_skyline(site, self.skyline.points)
        self._take_site(site)
        self._remember_site(site)
        if not (here and self.sightings):
            self._reopen()
        self.refit()

    def use_site(self, name: str) -> None:
        """One of the sites kept. Raises UserError if none is so called."""
        site = self.book.site_named(name)
        if site is None:
            raise UserError(f"the site '{name}'", "one of those kept", "Choose one of the list")
        self.set_site(site)

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
        self.new_aim()

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
            if self.timing is not None and self.timing.sentence:
                text = self.timing.sentence
                self.book.add_note(self.outing.id, text, self.now(), undoable=False)
            # Plan and choice were made for tonight; slips and misses belong to sightings past.
            self._save(sweep=None, misses=(), slips=self._open_slip())
            # What is kept outside of outings must not come back with the next evening.
            self.book.set_setting(DESK, kept.dump(Desk(eyepiece=self.desk.eyepiece)))
            self.refit()
        return self.outing

    def _open_slip(self) -> tuple[Slip, ...]:
        slip = self.slip
        return (slip,) if slip is not None else ()

    def end_outing(self) -> None:
        """Close it. The plan goes with it."""
        outing = self.need_outing()
        self.leave_target()
        self.book.end_outing(outing.id, self.now())
        old, self.outing, self.sightings = self.desk, None, ()
        self.desk = Desk()
        self._save(eyepiece=old.eyepiece)
        self.choice = None
        self.refit()

    def need_outing(self) -> Outing:
        """The outing in progress. Raises UserError without one."""
        if self.outing is None:
            raise UserError("no outing in progress", "one", "Start an outing first")
        return self.outing

    def confirm_filter(self, confirmed: bool) -> None:
        """A full-aperture solar filter is on (or off): only the observer can know."""
        outing = self.outing or self.start_outing()
        self.book.set_solar_filter(outing.id, confirmed)
        self.outing = self.book.outing(outing.id)
        self.new_aim()

    def note(self, text: str) -> None:
        """A remark for the log."""
        outing = self.outing or self.start_outing()
        self.book.add_note(outing.id, text[:4000], self.now())

    # ---- messages and counts ---------------------------------------------------------------

    def say(self, text: str, kind: str) -> None:
        """Put a sentence on every screen; the same one again replaces itself."""
        rest = tuple(m for m in self.messages if m.text != text)
        fresh = Message(f"m{next(self._ids)}", upper_first(text), kind)
        self.messages = (*rest, fresh)[-MOST_MESSAGES:]

    def dismiss(self, message_id: str) -> None:
        """Take a message off."""
        self.messages = tuple(m for m in self.messages if m.id != message_id)

    def keep_counts(self, counts: kept.Counts | None) -> None:
        """What the encoders need to carry on after a restart. Saved only when it has changed.

        A setting of its own, since it changes every few seconds while the tube is pushed.
        """
        if counts is not None and counts != self._counts:
            self.book.set_setting(COUNTS, counts)
            self._counts = counts

    def counts_kept(self) -> kept.Counts | None:
        """The counts to carry on from: only within an outing. A new evening starts afresh, since
        a board that was switched off by day has not slipped."""
        raw = self.book.get_setting(COUNTS) if self.outing is not None else None
        return kept.load_counts(raw)
