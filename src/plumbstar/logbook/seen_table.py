"""What was seen as a table, CSV or ECSV, one line a look; and such a table read.

A table of one's own needs ``utc`` and ``object`` alone: what it lists counts as seen.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from typing import get_args

from plumbstar.contract.seen import HowSeen
from plumbstar.errors import UserError
from plumbstar.logbook.ecsv import ecsv_text
from plumbstar.logbook.exchange import OutingText
from plumbstar.logbook.looks import check_sky, good_words
from plumbstar.logbook.looks_text import LookText, SkyText
from plumbstar.logbook.oal_in import OalLog
from plumbstar.logbook.places import log_name, target_named
from plumbstar.logbook.records import Outing, clean, short
from plumbstar.logbook.seen import occasions
from plumbstar.logbook.store import Logbook
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import table
from plumbstar.text.table import Row

#: Name, type, unit, and what it is.
COLUMNS: tuple[tuple[str, str, str, str], ...] = (
    ("utc", "string", "", "moment of the look, ISO 8601 UTC"),
    ("object", "string", "", "what was looked at"),
    ("seen", "string", "", "clearly, faintly, barely, seen, or not"),
    ("eyepiece", "string", "", "the eyepiece in use"),
    ("words", "string", "", "what was seen, in words"),
    ("kit", "string", "", "the telescope"),
    ("site", "string", "", "where it was"),
    ("lat_deg", "float64", "deg", "latitude, north positive"),
    ("lon_deg", "float64", "deg", "longitude, east positive"),
    ("elevation_m", "float64", "m", "height above the sea"),
    ("seeing", "int64", "", "1, the steadiest, to 5"),
    ("transparency", "int64", "", "1, the clearest, to 5"),
    ("zenith_mag", "float64", "mag / arcsec2", "the sky's brightness at the zenith, V"),
    ("faintest_mag", "float64", "mag", "faintest star without a telescope"),
)
_NAMES = tuple(name for name, *_ in COLUMNS)
#: Headings that people write -> ours.
_HEADINGS = {n: n for n in _NAMES} | {
    "target": "object", "name": "object", "date": "utc", "time": "utc", "notes": "words",
    "telescope": "kit", "how": "seen",
}  # fmt: skip
_WANTED = "a heading with 'utc' and 'object' (and 'seen', 'eyepiece', 'words' ...), one line a look"
_HOW: tuple[HowSeen, ...] = get_args(HowSeen)


def is_seen_table(text: str) -> bool:
    """Whether the heading is that of such a table and not one of sightings."""
    cells = {c.strip().strip('"') for c in table.heading(text).replace(";", ",").split(",")}
    ours = {_HEADINGS.get(c, "") for c in cells}
    return {"utc", "object"} <= ours and not any("reading" in c for c in cells)


def seen_csv(book: Logbook, outings: Iterable[Outing]) -> str:
    """CSV that :func:`seen_from_table` reads back."""
    return table.write(_NAMES, list(_rows(book, outings)))


def seen_ecsv(book: Logbook, outings: Iterable[Outing]) -> str:
    """The same with units in its head; words on one line."""
    rows = ([" ".join(c.split()) for c in r] for r in _rows(book, outings))
    return ecsv_text(COLUMNS, {"program": "Plumbstar"}, rows)


def _rows(book: Logbook, outings: Iterable[Outing]) -> Iterable[Sequence[str]]:
    for o in outings:
        skies = book.skies(o.id)
        s = o.site
        place = ("", "", "", "")
        if s is not None:
            place = (clean(s.name), repr(s.lat_deg), repr(s.lon_deg), repr(s.elevation_m))
        for x in occasions(book, o):
            told = [k for k in skies if k.utc <= x.utc] or list(skies[:1])
            now = told[-1] if told else None
            sky: tuple[float | None, ...] = (None,) * 4
            if now is not None:
                sky = (now.seeing, now.transparency, now.zenith_mag, now.faintest_mag)
            head = (short(x.utc), clean(x.name), x.seen, clean(x.eyepiece), x.words)
            yield (*head, clean(o.kit_name), *place, *("" if k is None else repr(k) for k in sky))


def seen_from_table(text: str, source: str) -> OalLog:
    """Its looks, in an outing for each night (noon to noon) and site.

    Raises :class:`TableError` naming the line.
    """
    found = table.read(text, source, lambda n: _HEADINGS.get(n, ""), _WANTED, only_known=False)
    for column in ("utc", "object"):
        if column not in found.named:
            raise found.error(f"no column '{column}'", _WANTED)
    found.needs_rows("looks")
    groups: dict[tuple[str, int, str], list[tuple[Instant, LookText, SkyText, Site | None]]] = {}
    for row in found.rows:
        try:
            at, look, sky, site = _look(row)
        except table.TableError:
            raise
        except UserError as e:
            raise row.at(e) from None
        lon_deg = site.lon_deg if site is not None else 0.0
        night = math.floor((at.to_unix() + lon_deg * 240.0 - 43200.0) / 86400.0)
        where = f"{site.name} {site.lat_deg} {site.lon_deg}" if site is not None else ""
        key = (where, night, clean(row.text("kit")))
        groups.setdefault(key, []).append((at, look, sky, site))
    notes = [r.sentence for r in found.repeats]
    if found.unknown:
        notes.append(f"Columns that were left alone: {', '.join(found.unknown)}.")
    outings = [_outing(key, sorted(those, key=lambda x: x[0])) for key, those in groups.items()]
    return OalLog(outings, len(found.rows), notes)


def _outing(
    key: tuple[str, int, str], those: list[tuple[Instant, LookText, SkyText, Site | None]]
) -> OutingText:
    looks = [look for _, look, _, _ in those]
    skies: list[SkyText] = []
    for _, _, sky, _ in those:
        now = (sky.seeing, sky.transparency, sky.zenith_mag, sky.faintest_mag)
        last = skies[-1] if skies else None
        before = (
            (last.seeing, last.transparency, last.zenith_mag, last.faintest_mag) if last else None
        )
        if any(x is not None for x in now) and now != before:
            skies.append(sky)
    raw = "\n".join([repr(key), *(f"{x.utc} {x.target} {x.words}" for x in looks)])
    return OutingText(
        uid="seen-" + hashlib.sha256(raw.encode()).hexdigest()[:28],
        started=short(those[0][0]),
        ended=short(those[-1][0]),
        site=those[0][3],
        kit_name=key[2],
        looks=looks,
        skies=skies,
    )


def _look(row: Row) -> tuple[Instant, LookText, SkyText, Site | None]:
    if not row.text("utc"):
        raise row.error("no time", "a time in UTC, as 2027-01-28T20:15:00Z", "Fill it in", "utc")
    at = Instant.parse(row.text("utc"))
    name = clean(row.text("object"))
    if not name:
        raise row.error("no object", "what was looked at", "Fill it in", "object")
    how = row.text("seen").strip().casefold() or "seen"
    if how not in _HOW:
        raise row.error(f"'{how[:40]}'", f"one of {', '.join(_HOW)}", "Correct it", "seen")
    target = target_named(name)
    told = tuple(row.number(c) for c in ("seeing", "transparency", "zenith_mag", "faintest_mag"))
    whole = tuple(None if x is None else int(x) for x in told[:2])
    check_sky(whole[0], whole[1], told[2], told[3])
    look = LookText(
        target=log_name(target) if target is not None else name,
        utc=short(at),
        seen=next(h for h in _HOW if h == how),
        eyepiece=clean(row.text("eyepiece")),
        words=good_words(row.text("words")),
    )
    sky = SkyText(
        utc=short(at), seeing=whole[0], transparency=whole[1], zenith_mag=told[2],
        faintest_mag=told[3],
    )  # fmt: skip
    return at, look, sky, _site(row)


def _site(row: Row) -> Site | None:
    lat, lon = row.number("lat_deg"), row.number("lon_deg")
    if lat is None or lon is None:
        return None
    return Site(lat, lon, row.number("elevation_m") or 0.0, name=clean(row.text("site"))[:120])
