"""Actions before and between: where the telescope stands, and which telescope it is."""

from __future__ import annotations

from plumbstar.errors import UserError
from plumbstar.sky.site import Site
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.ground import same_place
from plumbstar.web.evening.instrument import same_circles
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts


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
