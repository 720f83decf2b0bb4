"""A place as somebody typed it on the Prepare page: coordinates, a kept site, or a town."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from plumbstar.errors import UserError
from plumbstar.sky import coordinates
from plumbstar.sky.lists import towns
from plumbstar.sky.naming.names import fold
from plumbstar.sky.site import Site

MOST_TOWNS = 6


def site_dict(s: Site) -> dict[str, Any]:
    """A site for the pages; ``words`` is its place to read."""
    return {
        "lat_deg": s.lat_deg,
        "lon_deg": s.lon_deg,
        "elevation_m": s.elevation_m,
        "name": s.name,
        "time_zone": s.time_zone,
        "zenith_mag": s.zenith_mag,
        "words": coordinates.words(s.lat_deg, s.lon_deg, s.elevation_m),
    }


def look(kept: Sequence[Site], text: str) -> dict[str, Any]:
    """What the text may mean: ``read`` (coordinates), ``sites`` (kept), ``towns``; else ``error``.

    For the thinking thread: the list of towns takes a quarter of a second the first time.
    """
    text = text.strip()[:200]
    out: dict[str, Any] = {"read": None, "sites": [], "towns": [], "error": ""}
    if not text:
        return out
    try:
        out["read"] = _read(Site.parse(text))
        return out
    except UserError as e:
        refused = e
    wanted = fold(text)
    out["sites"] = [site_dict(s) for s in kept if wanted and wanted in fold(s.name)]
    # A town's name has no figures: with some, the coordinates' own error says more.
    if wanted and not any(c.isdigit() for c in text):
        out["towns"] = [_town(t) for t in towns.load().find(text, MOST_TOWNS)]
        refused = UserError(
            f"nothing by the name “{text[:60]}”",
            "a town of over 5,000 people, or coordinates",
            "Try a larger town near by, or type coordinates as 47.2, 11.6",
        )
    if not (out["sites"] or out["towns"]):
        out["error"] = refused.on_pages()
    return out


def _read(s: Site) -> dict[str, Any]:
    return site_dict(s) | {"time_zone": towns.load().zone_at(s.lat_deg, s.lon_deg)}


def _town(t: towns.Town) -> dict[str, Any]:
    return {
        "label": t.label,
        "lat_deg": t.lat_deg,
        "lon_deg": t.lon_deg,
        "time_zone": t.time_zone,
        "words": coordinates.words(t.lat_deg, t.lon_deg, 0.0, 2),
    }
