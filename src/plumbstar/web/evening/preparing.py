"""Actions before and between: where the telescope stands, and which telescope it is."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from plumbstar.encoders.reading import Reading
from plumbstar.encoders.typed import turned
from plumbstar.errors import UserError
from plumbstar.kit import edit
from plumbstar.logbook import LoggedSighting
from plumbstar.sky.site import Site
from plumbstar.text import words
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.ground import same_place
from plumbstar.web.evening.instrument import same_circles
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts


def _with(text: str, keys: Sequence[tuple[str, str, object]]) -> str:
    for heading, key, value in keys:
        text = edit.with_keys(text, heading, {key: value})
    return text


class Preparing:
    """Site, skyline, kit, eyepiece."""

    def __init__(self, parts: Parts, after: Consequences, outings: Outings) -> None:
        self._p, self._after, self._outings = parts, after, outings

    def set_site(self, site: Site) -> None:
        """Where the telescope stands. Refused while sightings made elsewhere are in the outing.

        The same place under another name may be said at any time.
        """
        here = self._p.ground.site is not None and same_place(self._p.ground.site, site)
        if not here:
            self._refuse_in_mid_outing("site")
        self._p.ground.set_site(site)
        if not (here and self._observed()):
            self.begin_outing_anew()
        self._after.refit()

    def use_site(self, name: str) -> None:
        """One of the sites kept. Raises UserError if none is so called."""
        self.set_site(self._p.ground.named(name))

    def set_kit(self, text: str) -> None:
        """Another kit file's text. What the sightings depend on cannot change under them."""
        other_circles = not same_circles(self._p.instrument.kit, self._p.instrument.read(text))
        if other_circles:
            self._refuse_in_mid_outing("telescope")
        self._p.instrument.take(text)
        self._p.instrument.remember(text)
        if other_circles:
            self._p.upright.forget()  # the stop was told of other encoders
            self.begin_outing_anew()
        self._after.refit()

    def write_keys(self, keys: Sequence[tuple[str, str, object]]) -> None:
        """Single keys of the kit (heading, key, value), found by a check of it."""
        if not keys:
            raise UserError("Nothing of that is written into the kit", "", "Nothing was changed")
        self.set_kit(_with(self._p.instrument.kit_text, keys))
        self._say_written(keys)

    def turn_circles(self, axes: Sequence[str]) -> None:
        """The figures of these circles run the other way than the kit says. An outing whose stars
        were sighted so ends, all of them set aside; where the circles are read by eye, another one
        begins with the same stars, moments and figures, understood the other way."""
        kit = self._p.instrument.kit
        keys = [(f"[{axis}]", "reversed", not getattr(kit, axis).reversed) for axis in axes]
        text = _with(self._p.instrument.kit_text, keys)
        self._p.instrument.read(text)
        wrong: tuple[LoggedSighting, ...] = ()
        if self._p.current.outing is not None and self._observed():
            self._p.doubts.refuse_to_end()
            # A move that a star's answer alone spoke of was these figures.
            real = [s.after for s in self._p.slips.all if not s.nothing_moved and not s.seen]
            moved = max(real, default=0)
            used = self._p.sightings.used
            if not kit.connection.heard:
                wrong = tuple(s for s in used if s.id > moved)
            plan = self._p.plan.names
            self._p.sightings.set_all_aside([s.id for s in used], "the figures ran the other way")
            self._outings.end()
            self.set_kit(text)
            self._outings.start()
            self._p.plan.pick(plan)
        else:
            self.set_kit(text)
        for s in wrong:
            self._enter_turned(s, axes)
        self._after.refit(log=True)
        stars = words.many(len(wrong), "star")
        more = (
            f"{stars} entered again, the figures taken the other way."
            if wrong
            else "The figures are taken the other way. Now sight the stars."
        )
        self._say_written(keys, more)

    def _enter_turned(self, old: LoggedSighting, axes: Sequence[str]) -> None:
        az, alt = turned(
            *(old.sighting.az_reading_deg, old.sighting.alt_reading_deg),
            azimuth="azimuth" in axes,
            altitude="altitude" in axes,
        )
        fact = replace(old.sighting, az_reading_deg=az, alt_reading_deg=alt)
        reading = Reading(az, alt, state="typed")
        self._p.sightings.add(fact, reading, fact.star, f"turned-{old.id}")

    def _say_written(self, keys: Sequence[tuple[str, str, object]], more: str = "") -> None:
        there = ""
        if self._p.instrument.of_file:
            said = ", ".join(
                f"{key} = {json.dumps(value)} under {head}" for head, key, value in keys
            )
            there = f" In the file that starts these pages, change it as well: {said}."
        self._p.messages.say(f"{more} The kit is changed.{there}".strip(), "info")

    def refuse_a_mend(self) -> None:
        """Raises :class:`UserError` while an outing has sightings made with the stop as it was."""
        if self._p.current.outing is not None and self._observed():
            raise UserError(
                f"The stars of outing {self._p.current.outing.id} were sighted with the stop as it "
                "was",
                "",
                "End the outing first (on Log), then record what was changed",
            )

    def begin_after_a_mend(self) -> None:
        """An outing begun before it, without a sighting: another one, which then knows of the mend.
        One with remarks stays in the log."""
        outing = self._p.current.outing
        if outing is not None and self._p.book.notes(outing.id):
            self._outings.end()
            self._outings.start()
        else:
            self.begin_outing_anew()

    def _refuse_in_mid_outing(self, what: str) -> None:
        if self._p.current.outing is not None and self._observed():
            raise UserError(
                f"The {what} cannot change in the middle of outing "
                f"{self._p.current.outing.id}: its sightings were made with it",
                "",
                f"End the outing first; the next one takes the new {what}",
            )

    def _observed(self) -> bool:
        """Whether anything in the outing hangs on place and telescope."""
        return bool(self._p.sightings.all or self._p.display.entries)

    def begin_outing_anew(self) -> None:
        """An outing without sightings: start it again, so that it names the right site and kit."""
        if self._p.current.outing is not None:
            self._p.current.discard()
            self._outings.start()

    def set_eyepiece(self, name: str) -> None:
        """The eyepiece that is in the focuser now."""
        self._p.instrument.set_eyepiece(name)
        self._after.refit()

    def set_skyline(self, text: str) -> None:
        """Obstructions as azimuth:altitude pairs, kept for this site."""
        self._p.ground.set_skyline(text)
        self._after.new_aim()
