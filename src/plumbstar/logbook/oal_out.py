"""Open Astronomy Log 2.1 written: looks, finds, sessions and the sky, valid by its schema."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from typing import Any

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.places import target_named
from plumbstar.logbook.records import Outing
from plumbstar.logbook.seen import occasions
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.words import sky_words
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn_deg, rounded_deg

_NAMESPACE = "http://groups.google.com/group/openastronomylog"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
#: The standard's rating for each word (oal_in.py reads it back).
_RATING = {"clearly": 2, "faintly": 3, "barely": 5, "not": 7, "seen": 99}
_HOW = {1: "clearly", 2: "clearly", 3: "faintly", 4: "faintly", 5: "barely", 6: "barely", 7: "not"}
_TYPES = {
    "open cluster": "deepSkyOC", "globular cluster": "deepSkyGC", "planetary nebula": "deepSkyPN",
    "nebula": "deepSkyGN", "reflection nebula": "deepSkyGN", "supernova remnant": "deepSkyGN",
    "cluster with nebula": "deepSkyGN", "dark nebula": "deepSkyDN", "star cloud": "deepSkySC",
    "group of stars": "deepSkyAS", "galaxy": "deepSkyGX", "double star": "deepSkyDS",
}  # fmt: skip
_BODIES = {"Sun": "SunTargetType", "Moon": "MoonTargetType"}
#: Parts of an equipment's description, in the schema's order.
_LENS = ("model", "vendor", "factor")
_FILTER = ("model", "vendor", "type", "color", "wratten", "schott")


def oal_text(book: Logbook, outings: list[Outing], observer: str = "") -> str:
    """The looks of those outings. ``observer``: name and surname, or nothing."""
    return _Writer(observer).written(book, outings)


def _clean(text: str) -> str:
    """Without what XML 1.0 cannot hold (section 2.2)."""
    return "".join(
        c
        for c in text
        if c in "\t\n\r" or " " <= c <= "\ud7ff" or (c >= "\ue000" and c not in "\ufffe\uffff")
    )


def _sub(parent: ET.Element, name: str, text: object = "", **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, name, attributes)
    child.text = _clean(str(text)) or None
    return child


class _Writer:
    """One file; what observations refer to is written once and given an id."""

    def __init__(self, observer: str) -> None:
        self._root = ET.Element("oal:observations", {
            "version": "2.1", "xmlns:oal": _NAMESPACE, "xmlns:xsi": _XSI,
            "xsi:schemaLocation": f"{_NAMESPACE} oal21.xsd",
        })  # fmt: skip
        self._groups = {
            name: ET.SubElement(self._root, name)
            for name in ("observers", "sites", "sessions", "targets", "scopes", "eyepieces",
                         "lenses", "filters", "imagers")
        }  # fmt: skip
        self._known: dict[tuple[object, ...], str] = {}
        name, _, surname = observer.strip().rpartition(" ")
        self._me = (name or surname, surname if name else "")

    def written(self, book: Logbook, outings: list[Outing]) -> str:
        for o in outings:
            self._outing(book, o)
        ET.indent(self._root)
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(self._root, "unicode") + "\n"
        )

    def _id(self, group: str, key: tuple[object, ...]) -> tuple[str, bool]:
        """The id of an entry of the group, and whether it is still to be written."""
        known = self._known.get((group, *key))
        if known is not None:
            return known, False
        made = f"{group}_{sum(k[0] == group for k in self._known) + 1}"
        self._known[(group, *key)] = made
        return made, True

    def _entry(
        self, group: str, one: str, key: tuple[object, ...]
    ) -> tuple[str, ET.Element | None]:
        made, new = self._id(group, key)
        return made, ET.SubElement(self._groups[group], one, {"id": made}) if new else None

    def _outing(self, book: Logbook, o: Outing) -> None:
        found = occasions(book, o)
        if not found:
            return
        skies = book.skies(o.id)
        kit = _kit_of(o)
        site, session = self._site(o), ""
        if site:
            session, node = self._entry("sessions", "session", (o.uid,))
            if node is not None:
                _sub(node, "begin", _time(o.started))
                last = max(o.ended or o.started, *(x.utc for x in found))
                _sub(node, "end", _time(last))
                _sub(node, "site", site)
                if skies and (said := sky_words(skies[-1])):
                    _sub(node, "weather", said)
                if o.kit_name:
                    _sub(node, "equipment", o.kit_name)
                if notes := "\n".join(n.text for n in book.notes(o.id)):
                    _sub(node, "comments", notes)
        for x in found:
            target = target_named(x.name)
            if isinstance(target, Body) and x.seen == "not":
                continue  # the standard can say so of deep-sky objects only
            more = x.more
            node = ET.SubElement(self._root, "observation")
            _sub(node, "observer", self._observer(more))
            if site:
                _sub(node, "site", site)
                _sub(node, "session", session)
            _sub(node, "target", self._target(x.name, target, more))
            _sub(node, "begin", _time(x.utc))
            if isinstance(more.get("end"), str):
                _sub(node, "end", more["end"])
            told = [s for s in skies if s.utc <= x.utc] or list(skies[:1])
            if told and (now := told[-1]):
                if now.faintest_mag is not None:
                    _sub(node, "faintestStar", now.faintest_mag)
                if now.zenith_mag is not None:
                    _sub(node, "sky-quality", now.zenith_mag, unit="mags-per-squarearcsec")
                if now.seeing is not None:
                    _sub(node, "seeing", now.seeing)
            self._equipment(node, kit, x.eyepiece, more)
            self._result(node, target, x.seen, x.words, more)
            for name in more.get("images", ()):
                _sub(node, "image", name)

    def _observer(self, more: Mapping[str, Any]) -> str:
        told = more.get("observer")
        who = tuple(str(t) for t in told) if isinstance(told, list) and len(told) == 2 else self._me
        made, node = self._entry("observers", "observer", who)
        if node is not None:
            _sub(node, "name", who[0])
            _sub(node, "surname", who[1])
        return made

    def _site(self, o: Outing) -> str:
        if o.site is None:
            return ""
        s = o.site
        made, node = self._entry("sites", "site", (s.name, s.lat_deg, s.lon_deg, s.elevation_m))
        if node is not None:
            _sub(node, "name", s.name)
            _sub(node, "longitude", s.lon_deg, unit="deg")
            _sub(node, "latitude", s.lat_deg, unit="deg")
            _sub(node, "elevation", s.elevation_m)
            # Without summer time; a zone's rule has no place here: by the Sun, to the hour.
            _sub(node, "timezone", round(s.lon_deg / 15.0) * 60)
        return made

    def _target(self, name: str, target: Target | None, more: Mapping[str, Any]) -> str:
        key = (name,) if target is None else (type(target).__name__, target.key)
        made, node = self._entry("targets", "target", key)
        if node is None:
            return made
        if target is None:
            _unknown(node, name, more.get("oal_target") or {})
            return made
        pair = doubles.of(target) if isinstance(target, Star) else None
        it = pair or target
        kind = _type_of(it)
        node.set("xsi:type", f"oal:{kind}")
        source = "Plumbstar" if isinstance(it, Body) else "Hipparcos"
        if isinstance(it, DeepSky) and not isinstance(it, Double):
            source = "OpenNGC" if it.catalogue else "Plumbstar"
        _sub(node, "datasource", source)
        _sub(node, "name", name)
        other = target.names if isinstance(target, DeepSky) else (target.label,)
        for alias in other:
            if alias and alias != name:
                _sub(node, "alias", alias)
        if isinstance(it, Body):
            return made
        place = ET.SubElement(node, "position")
        _sub(place, "ra", it.ra_deg, unit="deg")
        _sub(place, "dec", it.dec_deg, unit="deg")
        if it.constellation:
            _sub(node, "constellation", CONSTELLATIONS[it.constellation][0])
        if isinstance(it, DeepSky):
            if kind != "starTargetType":
                _deep_sky(node, it)
        elif math.isfinite(it.v_mag):
            _sub(node, "apparentMag", it.v_mag)
        return made

    def _equipment(
        self, node: ET.Element, kit: Kit | None, eyepiece: str, more: Mapping[str, Any]
    ) -> None:
        scope = self._scope(kit, more)
        if scope:
            _sub(node, "scope", scope)
        if more.get("accessories"):
            _sub(node, "accessories", more["accessories"])
        if made := self._eyepiece(kit, eyepiece, more):
            _sub(node, "eyepiece", made)
        for group, one, parts in (("lenses", "lens", _LENS), ("filters", "filter", _FILTER)):
            told = more.get(one)
            if isinstance(told, dict) and "model" in told:
                made, entry = self._entry(group, one, tuple(sorted(told.items())))
                for part in parts if entry is not None else ():
                    if part in told and entry is not None:
                        _sub(entry, part, told[part])
                _sub(node, one, made)
        power = more.get("magnification")
        used = _eyepiece_named(kit, eyepiece)
        if power is None and kit is not None and used is not None:
            power = round(kit.telescope.focal_length_mm / used.focal_length_mm, 1)
        if isinstance(power, int | float) and power >= 1.0:
            _sub(node, "magnification", power)

    def _scope(self, kit: Kit | None, more: Mapping[str, Any]) -> str:
        model, aperture, focal = (
            more.get("scope"),
            more.get("aperture_mm"),
            more.get("focal_length_mm"),
        )
        if kit is not None and model is None:
            t = kit.telescope
            model, aperture, focal = kit.name, t.aperture_mm, t.focal_length_mm
        if not aperture:
            return ""
        made, node = self._entry(
            "scopes",
            "scope",
            (model, aperture, focal, more.get("magnification") if not focal else None),
        )
        if node is not None:
            fixed = not focal
            node.set("xsi:type", "oal:fixedMagnificationOpticsType" if fixed else "oal:scopeType")
            _sub(node, "model", model or "")
            _sub(node, "aperture", aperture)
            if fixed:
                _sub(node, "magnification", max(1.0, float(more.get("magnification") or 1.0)))
            else:
                _sub(node, "focalLength", focal)
        return made

    def _eyepiece(self, kit: Kit | None, name: str, more: Mapping[str, Any]) -> str:
        used = _eyepiece_named(kit, name)
        focal = used.focal_length_mm if used is not None else more.get("eyepiece_mm")
        if not name or not focal:
            return ""
        made, node = self._entry("eyepieces", "eyepiece", (name, focal))
        if node is not None:
            _sub(node, "model", name)
            _sub(node, "focalLength", focal)
            if used is not None and used.apparent_field_deg is not None:
                _sub(node, "apparentFOV", used.apparent_field_deg, unit="deg")
        return made

    def _result(
        self,
        node: ET.Element,
        target: Target | None,
        seen: str,
        words: str,
        more: Mapping[str, Any],
    ) -> None:
        result = ET.SubElement(node, "result")
        _sub(result, "description", words)
        if isinstance(target, Body):
            return
        result.set("xsi:type", "oal:findingsDeepSkyType")
        rest = more.get("result") or {}
        for name in ("stellar", "extended", "resolved", "mottled"):
            if rest.get(name) in ("true", "false", "0", "1"):
                result.set(name, rest[name])
        rating = more.get("rating")
        kept = isinstance(rating, int) and _HOW.get(rating, "seen") == seen
        _sub(result, "rating", rating if kept else _RATING[seen])


def _type_of(it: Target) -> str:
    if isinstance(it, MinorBody):
        return "CometTargetType" if it.sort == "comet" else "MinorPlanetTargetType"
    if isinstance(it, Body):
        return _BODIES.get(it.name, "PlanetTargetType")
    if isinstance(it, Double):
        return "deepSkyDS"
    if isinstance(it, Star):
        return "starTargetType"
    if "galax" in it.kind and it.kind != "galaxy":
        return "deepSkyCG"
    return _TYPES.get(it.kind, "deepSkyNA")


def _deep_sky(node: ET.Element, it: DeepSky) -> None:
    """Sizes, brightness, and of a pair its separation and angle, in the schema's order."""
    for name, size in (("smallDiameter", it.minor_arcmin), ("largeDiameter", it.size_arcmin)):
        if math.isfinite(size):
            _sub(node, name, size, unit="arcmin")
    if math.isfinite(it.v_mag):
        _sub(node, "visMag", it.v_mag)
    if isinstance(it, Double):
        _sub(node, "separation", it.separation_arcsec, unit="arcsec")
        if math.isfinite(it.position_angle_deg):
            _sub(node, "pa", int(rounded_deg(it.position_angle_deg)))
        _sub(node, "magComp", it.mag_b)


def _unknown(node: ET.Element, name: str, facts: Mapping[str, Any]) -> None:
    """What no list of ours has: as the log that it came from had it."""
    node.set("xsi:type", "oal:deepSkyNA")
    _sub(node, "datasource", facts.get("datasource") or "Plumbstar")
    _sub(node, "name", name)
    for alias in facts.get("aliases", ()):
        _sub(node, "alias", alias)
    if facts.get("ra_deg") is not None and facts.get("dec_deg") is not None:
        place = ET.SubElement(node, "position")
        _sub(place, "ra", one_turn_deg(float(facts["ra_deg"])), unit="deg")
        _sub(place, "dec", facts["dec_deg"], unit="deg")
    for tag in ("constellation", "notes"):
        if facts.get(tag):
            _sub(node, tag, facts[tag])


def _time(utc: Instant) -> str:
    return utc.iso()


def _kit_of(o: Outing) -> Kit | None:
    """The kit as it was that evening; None where none was told, or it cannot be read now."""
    if not o.kit_text:
        return None
    try:
        return kits.loads(o.kit_text)
    except UserError:
        return None


def _eyepiece_named(kit: Kit | None, name: str) -> kits.Eyepiece | None:
    return next((e for e in kit.eyepiece if e.name == name), None) if kit is not None else None
