"""Where the telescope stands: the site, its Sun, and the skyline round it."""

from __future__ import annotations

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.web.evening.almanac import Almanac

SITE = "site"  # a setting in the logbook


def same_place(a: Site, b: Site) -> bool:
    """Whether sightings made at the one hold for the other: only names and the like differ."""
    return (a.lat_deg, a.lon_deg, a.elevation_m, a.pressure, a.temperature_c) == (
        b.lat_deg, b.lon_deg, b.elevation_m, b.pressure, b.temperature_c
    )  # fmt: skip


class Ground:
    """Site, almanac and skyline go together: another site has others."""

    def __init__(self, book: Logbook) -> None:
        self._book = book
        self.site: Site | None = None
        self.almanac: Almanac | None = None
        self.skyline = Skyline()

    def need_site(self) -> Site:
        """The site. Raises UserError while there is none."""
        if self.site is None:
            raise UserError(
                "It is not known yet where you stand, so no star can be placed",
                "",
                "Set the site first",
            )
        return self.site

    def take(self, site: Site | None) -> None:
        """Stand there, with the skyline kept for it. A fresh almanac, also for the same site."""
        self.site = site
        self.almanac = Almanac(site) if site is not None else None
        points = self._book.skyline(site) if site is not None else None
        self.skyline = Skyline(points) if points else Skyline()

    def last(self) -> Site | None:
        """The site used last, from the logbook."""
        saved = self._book.get_setting(SITE)
        return msgspec.convert(saved, Site) if saved is not None else None

    def remember(self, site: Site) -> None:
        """For the next start."""
        body = msgspec.to_builtins(site)
        if self._book.get_setting(SITE) != body:
            self._book.set_setting(SITE, body)

    def set_site(self, site: Site) -> None:
        """Another site, or another name for this one. One with a name is kept under it, for other
        evenings. The same place under another name takes its skyline along."""
        here = self.site is not None and same_place(self.site, site)
        if site.name:
            site = self._book.keep_site(site)
        if here and self.skyline.points and self._book.skyline(site) is None:
            self._book.set_skyline(site, self.skyline.points)
        self.take(site)
        self.remember(site)

    def named(self, name: str) -> Site:
        """One of the sites kept. Raises UserError if none is so called."""
        site = self._book.site_named(name)
        if site is None:
            raise UserError(f"the site '{name}'", "one of those kept", "Choose one of the list")
        return site

    def set_skyline(self, text: str) -> None:
        """Obstructions as azimuth:altitude pairs, kept for this site. Raises UserError."""
        line = Skyline.parse(text)
        self._book.set_skyline(self.need_site(), line.points)
        self.skyline = line
