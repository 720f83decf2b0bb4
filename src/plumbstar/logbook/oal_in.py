"""Open Astronomy Log read: its observations as outings with looks, skies and notes.

Version 2.1 and the 2.0 before it. Observations of one session are an outing; without a session
those of one site and night are. What the log has no place for is kept beside the look (``more``),
and goes out again with an export.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import msgspec

from plumbstar.contract.seen import HowSeen
from plumbstar.errors import UserError
from plumbstar.logbook.exchange import OutingText, RemarkText, book_from_json, to_json_text
from plumbstar.logbook.looks import LONGEST_WORDS, check_sky
from plumbstar.logbook.looks_text import LookText, SkyText
from plumbstar.logbook.oal_tree import XmlNode, parse_xml
from plumbstar.logbook.places import key_of, log_name
from plumbstar.logbook.records import Outing, clean, short
from plumbstar.logbook.seen import occasions
from plumbstar.logbook.store import Logbook
from plumbstar.sky.naming import lookup
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import half_turn_deg

#: The standard's rating, that of the German deep-sky list: 1 to 3 direct vision, 4 averted, 5
#: hardly, 6 dubious, 7 not sighted, 99 unknown (from memory; the schema has the numbers only).
_HOW: dict[str, HowSeen] = {
    "1": "clearly", "2": "clearly", "3": "faintly", "4": "faintly", "5": "barely", "6": "barely",
    "7": "not",
}  # fmt: skip
_TO_DEG = {"deg": 1.0, "rad": 180.0 / math.pi, "arcmin": 1.0 / 60.0, "arcsec": 1.0 / 3600.0}
_SQ_ARCMIN_MAG = 2.5 * math.log10(3600.0)


@dataclass
class OalLog:
    """What was read: outings, how many observations they hold, and in words what was left aside."""

    outings: list[OutingText]
    observations: int
    notes: list[str] = field(default_factory=list)


def oal_from(text: str | bytes) -> OalLog:
    """Raises :class:`UserError` naming the line, for what is no such log."""
    root = parse_xml(text)
    if root.name != "observations":
        raise UserError(
            f"XML that begins with <{root.name[:40]}>",
            "Open Astronomy Log, which begins with <observations>",
            "Export it in that format",
        )
    version = root.attributes.get("version", "")
    if not version.startswith("2."):
        raise UserError(
            f"Open Astronomy Log of version '{version[:20]}'", "2.0 or 2.1", "Export it as 2.1"
        )
    return _Reader(root).read()


def import_oal(book: Logbook, log: OalLog) -> tuple[tuple[Outing, ...], int]:
    """Add the observations; those that are here already (the same object at the same moment) are
    passed over. Returns the new outings, and how many observations were passed over."""
    here = {
        (key_of(x.name), round(x.utc.to_unix())) for o in book.outings() for x in occasions(book, o)
    }
    kept: list[OutingText] = []
    for o in log.outings:
        at = ((x, round(Instant.parse(x.utc).to_unix())) for x in o.looks)
        new = [x for x, unix in at if (key_of(x.target), unix) not in here]
        if new:
            kept.append(msgspec.structs.replace(o, looks=new))
    passed = log.observations - sum(len(o.looks) for o in kept)
    if not kept:
        return (), passed
    return book.import_book(book_from_json(to_json_text(kept))), passed


class _Reader:
    """One file; what observations refer to, by its id."""

    def __init__(self, root: XmlNode) -> None:
        self._root = root
        self._by_id: dict[str, XmlNode] = {
            node.attributes["id"]: node
            for group in root.children
            for node in group.children
            if "id" in node.attributes
        }
        self.notes: dict[str, int] = {}

    def read(self) -> OalLog:
        groups: dict[str, list[tuple[XmlNode, Instant]]] = {}
        for node in self._root.all("observation"):
            at = _moment(node, "begin")
            groups.setdefault(self._evening(node, at), []).append((node, at))
        outings = [self._outing(key, those) for key, those in groups.items()]
        told = [f"{text} ({n} times)" if n > 1 else text for text, n in self.notes.items()]
        return OalLog(outings, sum(len(g) for g in groups.values()), told)

    def _note(self, text: str) -> None:
        self.notes[text] = self.notes.get(text, 0) + 1

    def _ref(self, node: XmlNode, name: str) -> XmlNode | None:
        """What the child refers to. Raises :class:`UserError` for a reference to nothing."""
        key = node.said(name)
        if not key:
            return None
        found = self._by_id.get(key)
        if found is None:
            raise UserError(
                f"line {node.line}: <{name}> refers to '{key[:40]}', which is not in the file",
                "an id of the file",
                "Export the log again",
            )
        return found

    def _evening(self, node: XmlNode, at: Instant) -> str:
        """Which observations are of one outing: a session, or a site's night, noon to noon."""
        if node.said("session"):
            self._ref(node, "session")
            return f"session {node.said('session')}"
        site = self._site(node, None)
        lon_deg = site.lon_deg if site is not None else 0.0
        day = math.floor((at.to_unix() + lon_deg * 240.0 - 43200.0) / 86400.0)
        return f"night {node.said('site')} {day}"

    def _site(self, node: XmlNode, session: XmlNode | None) -> Site | None:
        found = self._ref(session, "site") if session is not None else None
        found = found or self._ref(node, "site")
        if found is None:
            return None
        lon, lat = _angle(found, "longitude"), _angle(found, "latitude")
        if lon is None or lat is None:
            return None
        lon = lon if -180.0 <= lon <= 180.0 else half_turn_deg(lon)
        height = _number(found, "elevation")
        try:
            return Site(lat, lon, height or 0.0, name=clean(found.said("name"))[:120])
        except UserError as e:
            raise e.within(f"line {found.line}: <site>") from None

    def _outing(self, key: str, those: list[tuple[XmlNode, Instant]]) -> OutingText:
        first = those[0][0]
        session = self._ref(first, "session")
        site = self._site(first, session)
        times = [at for _, at in those]
        start, end = min(times), max(times)
        notes: list[RemarkText] = []
        weather = ""
        if session is not None:
            start = min(start, _moment(session, "begin"))
            end = max(end, _moment(session, "end"))
            weather = session.said("weather")
            for name in ("comments", "equipment"):
                if text := session.said(name)[:LONGEST_WORDS]:
                    notes.append(RemarkText(utc=short(start), text=text))
        looks = [self._look(node, at) for node, at in those]
        scopes = {str(x.more.get("scope", "")) for x in looks} - {""}
        return OutingText(
            uid=_uid(key, looks),
            started=short(start),
            ended=short(end),
            site=site,
            kit_name=scopes.pop()[:120] if len(scopes) == 1 else "",
            notes=notes,
            looks=looks,
            skies=self._skies(those, weather),
        )

    def _look(self, node: XmlNode, at: Instant) -> LookText:
        target = self._ref(node, "target")
        if target is None:
            raise UserError(
                f"line {node.line}: an observation without a target", "one", "Correct the line"
            )
        more: dict[str, Any] = {"oal_target": _target_facts(target)}
        observer = self._ref(node, "observer")
        if observer is not None:
            more["observer"] = [observer.said("name"), observer.said("surname")]
        scope, eyepiece = self._ref(node, "scope"), self._ref(node, "eyepiece")
        if scope is not None:
            more["scope"] = clean(scope.said("model"))
            for tag, name in (("aperture", "aperture_mm"), ("focalLength", "focal_length_mm")):
                if (value := _number(scope, tag)) is not None:
                    more[name] = value
        if eyepiece is not None and (value := _number(eyepiece, "focalLength")) is not None:
            more["eyepiece_mm"] = value
        for tag in ("lens", "filter", "imager"):
            if (used := self._ref(node, tag)) is not None:
                more[tag] = {c.name: c.text.strip() for c in used.children if c.text.strip()}
        if (power := _number(node, "magnification")) is not None:
            more["magnification"] = power
        if text := node.said("accessories"):
            more["accessories"] = text
        if pictures := [c.text.strip() for c in node.all("image") if c.text.strip()]:
            more["images"] = pictures
            self._note(
                "Pictures are kept as the names of their files; the files stay where they are"
            )
        if node.said("end"):
            more["end"] = short(_moment(node, "end"))
        seen: HowSeen = "seen"
        words = []
        for result in node.all("result"):
            rating = result.said("rating")
            if rating:
                more["rating"] = int(rating) if rating.isdigit() else rating[:20]
                seen = _HOW.get(rating, "seen")
            if text := result.said("description"):
                words.append(text)
            rest = {k: v for k, v in result.attributes.items() if k not in ("type", "lang")}
            rest |= {
                c.name: c.text.strip()
                for c in result.children
                if c.name not in ("description", "rating") and c.text.strip()
            }
            if rest:
                more.setdefault("result", {}).update(rest)
        text = "\n".join(words)
        if len(text) > LONGEST_WORDS:
            text = text[:LONGEST_WORDS]
            self._note(f"Descriptions of more than {LONGEST_WORDS} characters were cut")
        name = clean(eyepiece.said("model")) if eyepiece is not None else ""
        return LookText(
            target=_name_of(target), utc=short(at), seen=seen, eyepiece=name, words=text, more=more
        )

    def _skies(self, those: list[tuple[XmlNode, Instant]], weather: str) -> list[SkyText]:
        """What was told of the sky, each time that it was told otherwise."""
        out: list[SkyText] = []
        words = clean(weather)[:LONGEST_WORDS]
        for node, at in sorted(those, key=lambda x: x[1]):
            seeing = _number(node, "seeing")
            zenith, faintest = _number(node, "sky-quality"), _number(node, "faintestStar")
            quality = node.first("sky-quality")
            if zenith is not None and quality is not None:
                per = quality.attributes.get("unit", "mags-per-squarearcsec")
                zenith += _SQ_ARCMIN_MAG if per == "mags-per-squarearcmin" else 0.0
            told = (int(seeing) if seeing is not None else None, None, zenith, faintest)
            try:
                check_sky(*told)
            except UserError as e:
                self._note(f"A sky that none is was left out ({e.came})")
                continue
            now = SkyText(
                utc=short(at), seeing=told[0], zenith_mag=zenith, faintest_mag=faintest, words=words
            )
            numbers = (now.seeing, now.zenith_mag, now.faintest_mag)
            last = out[-1] if out else None
            before = (last.seeing, last.zenith_mag, last.faintest_mag) if last else None
            # What an observation leaves out is as it was told before.
            told_now = any(x is not None for x in numbers)
            if (last is None and (told_now or words)) or (told_now and numbers != before):
                out.append(now)
        return out


def _uid(key: str, looks: Iterable[LookText]) -> str:
    """The same for the same observations: the file brought in twice is noticed."""
    raw = "\n".join([key, *(f"{x.utc} {x.target} {x.words}" for x in looks)])
    return "oal-" + hashlib.sha256(raw.encode("utf-8", "replace")).hexdigest()[:28]


def _name_of(target: XmlNode) -> str:
    """The log's name of it: by its name or another that a list has, else the name as it stands."""
    names = [clean(c.text) for c in (*target.all("name"), *target.all("alias"))]
    for name in filter(None, names):
        try:
            return log_name(lookup.find_target(name))
        except UserError:
            continue
    named = next(filter(None, names), "")
    if not named:
        raise UserError(f"line {target.line}: a target without a name", "one", "Name it")
    return named[:200]


def _target_facts(target: XmlNode) -> dict[str, Any]:
    """What a list of ours may not have: its kind, names, place and constellation."""
    facts: dict[str, Any] = {"name": target.said("name")}
    if kind := target.attributes.get("type", ""):
        facts["type"] = kind.rpartition(":")[2]
    if aliases := [c.text.strip() for c in target.all("alias") if c.text.strip()]:
        facts["aliases"] = aliases
    place = target.first("position")
    if place is not None:
        ra, dec = _angle(place, "ra"), _angle(place, "dec")
        if ra is not None and dec is not None:
            facts |= {"ra_deg": ra, "dec_deg": dec}
    for name in ("constellation", "notes", "datasource"):
        if text := target.said(name):
            facts[name] = text
    return facts


def _number(node: XmlNode, name: str) -> float | None:
    """A child as a number. Raises :class:`UserError` for one that is none."""
    text = node.said(name)
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UserError(f"line {node.line}: <{name}> '{text[:40]}'", "a number", "Correct the line")
    return value


def _angle(node: XmlNode, name: str) -> float | None:
    """Degrees."""
    child, value = node.first(name), _number(node, name)
    if child is None or value is None:
        return None
    unit = child.attributes.get("unit", "deg")
    if unit not in _TO_DEG:
        raise UserError(
            f"line {child.line}: an angle in '{unit[:20]}'",
            "deg, rad, arcmin or arcsec",
            "Correct the line",
        )
    return value * _TO_DEG[unit]


def _moment(node: XmlNode, name: str) -> Instant:
    """Raises :class:`UserError` naming the line. Without a zone a time is UTC."""
    text = node.said(name)
    try:
        return Instant.parse(text if not text or _has_zone(text) else f"{text}Z")
    except UserError as e:
        raise e.within(f"line {node.line}: <{name}>") from None


def _has_zone(text: str) -> bool:
    tail = text[10:]
    return tail.endswith("Z") or "+" in tail or "-" in tail
