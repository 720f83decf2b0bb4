"""What a logbook keeps beside its entries: settings, named sites, skylines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, to_json
from plumbstar.logbook.records import NotSaved, clean
from plumbstar.sky.naming.names import fold
from plumbstar.sky.site import Site

LONGEST_NAME = 120
SITES = "sites"  # the setting that holds the named sites


def good_name(text: str) -> str:
    """The name on one line. Raises :class:`UserError` for an empty or endless one, and for one
    that reads as coordinates, as those come first wherever a site is asked for."""
    name = clean(text)
    if not fold(name) or len(name) > LONGEST_NAME:
        raise UserError(
            f"the name '{name[:70]}'",
            f"a name of up to {LONGEST_NAME} characters, with letters or figures",
            "Choose another",
        )
    try:
        Site.parse(name)
    except UserError:
        return name
    raise UserError(
        f"the name '{name}', which reads as coordinates", "a name", "Choose another name"
    )


def site_key(site: Site) -> str:
    """What a skyline is filed under: the site's name, or its place to about 100 m."""
    return clean(site.name) or f"{site.lat_deg:.3f},{site.lon_deg:.3f}"


class Settings:
    """Anything JSON can hold, by name."""

    def __init__(self, file: LogbookFile) -> None:
        self._file = file

    def get(self, key: str, default: Any = None) -> Any:
        """A setting, or ``default``."""
        rows = self._file.rows("SELECT value FROM settings WHERE key = ?", (key,))
        return msgspec.json.decode(rows[0][0]) if rows else default

    def set(self, key: str, value: Any) -> None:
        """Keep a setting (anything JSON can hold)."""
        with self._file.changing() as _:
            self.put(key, value)

    def put(self, key: str, value: Any) -> None:
        """The same inside a change."""
        self._file.db.execute(
            "INSERT INTO settings (key, value) VALUES (?, ?)"
            " ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            (key, to_json(value)),
        )


class Sites:
    """Sites kept under a name, and what stands round each. Not undoable but for the skyline: a site
    is typed again in a moment, and its skyline stays."""

    def __init__(self, file: LogbookFile, settings: Settings) -> None:
        self._file = file
        self._settings = settings

    def skyline(self, site: Site) -> tuple[tuple[float, float], ...] | None:
        """Points (azimuth, altitude) in degrees of the site's obstructions, or None."""
        rows = self._file.rows("SELECT body FROM skylines WHERE site = ?", (site_key(site),))
        if not rows or rows[0][0] is None:
            return None
        return tuple(msgspec.json.decode(rows[0][0], type=list[tuple[float, float]]))

    def set_skyline(self, site: Site, points_deg: Sequence[tuple[float, float]]) -> None:
        """Keep the site's skyline; :meth:`UndoHistory.undo` brings back the one before."""
        for az, alt in points_deg:
            if not (math.isfinite(az) and -90.0 <= alt <= 90.0):
                raise NotSaved(
                    f"a skyline point at azimuth {az:g}, altitude {alt:g}",
                    "an altitude from -90 to 90°",
                    "Correct that point",
                )
        key = site_key(site)
        with self._file.changing(ChangeKind.SKYLINE_SET, key) as steps:
            self._file.db.execute("INSERT OR IGNORE INTO skylines (site) VALUES (?)", (key,))
            (row,) = self._file.db.execute(
                "SELECT id FROM skylines WHERE site = ?", (key,)
            ).fetchone()
            self._file.set(steps, "skylines", row, "body", to_json([list(p) for p in points_deg]))

    def all(self) -> tuple[Site, ...]:
        """The sites kept under a name, in the order of their names."""
        kept = msgspec.convert(self._settings.get(SITES, []), list[Site])
        return tuple(sorted(kept, key=lambda s: s.name.casefold()))

    def named(self, name: str) -> Site | None:
        """The site kept under that name, or None. Capitals, accents and spaces are forgiven."""
        return next((s for s in self.all() if fold(s.name) == fold(name)), None)

    def keep(self, site: Site) -> Site:
        """Keep it under its name, in place of one so called, whose spelling stays: its skyline
        is filed under that. Raises :class:`UserError` for a name that will not do."""
        name = good_name(site.name)
        with self._file.changing() as _:
            old = self.named(name)
            site = replace(site, name=old.name if old is not None else name)
            rest = [s for s in self.all() if s.name != site.name]
            self._settings.put(SITES, [msgspec.to_builtins(s) for s in (*rest, site)])
        return site

    def forget(self, name: str) -> Site:
        """Take it off the list; its skyline is kept. Raises :class:`UserError` if none is so
        called."""
        with self._file.changing() as _:
            gone = self.named(name)
            if gone is None:
                raise NotSaved(
                    f"no site called '{name}'", "a kept site", "Choose one of those kept"
                )
            rest = [s for s in self.all() if s.name != gone.name]
            self._settings.put(SITES, [msgspec.to_builtins(s) for s in rest])
        return gone
