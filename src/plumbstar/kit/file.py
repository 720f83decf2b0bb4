"""Reading a kit file: every key known, every value one that a real instrument can have.

docs/kit.md describes every key; ``example.toml`` beside this file is the commented example and the
demo's telescope.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import msgspec

from plumbstar.errors import UserError
from plumbstar.kit.model import (
    Circle,
    Connection,
    Controller,
    Eye,
    Eyepiece,
    Finder,
    Kit,
    PriorKeys,
    Shim,
    Stop,
    Telescope,
)
from plumbstar.text import files

# Bounds that a real instrument obeys: (path, low, high). They catch a misplaced decimal point.
BOUNDS: dict[str, tuple[float, float]] = {
    "telescope.aperture_mm": (20, 3000),
    "telescope.focal_length_mm": (50, 30000),
    "telescope.min_alt_deg": (-10, 80),
    "telescope.max_alt_deg": (10, 180),
    "eyepiece.focal_length_mm": (1, 120),
    "eyepiece.field_stop_mm": (1, 120),
    "eyepiece.apparent_field_deg": (5, 150),
    "finder.field_deg": (0.5, 40),
    "finder.aperture_mm": (0, 150),
    "finder.magnification": (1, 30),
    "azimuth.ticks_per_turn": (0, 2**26),
    "altitude.ticks_per_turn": (0, 2**26),
    "azimuth.read_to_deg": (0.001, 10),
    "altitude.read_to_deg": (0.001, 10),
    "connection.baud": (50, 4_000_000),
    "connection.port": (0, 65535),
    "connection.interval_ms": (10, 10_000),
    "controller.decimals": (0, 3),
    "stop.lever_arm_mm": (0, 5000),
    "shim.thickness_mm": (0.01, 100),
    "shim.count": (1, 1000),
    "eye.pupil_mm": (2, 9),
    "centring_arcmin": (0.05, 120),
    "push_seconds": (0, 600),
    "priors.altitude_zero_deg": (-90, 90),
    "priors.altitude_zero_sigma_deg": (0, 90),
    "priors.lean_north_deg": (-45, 45),
    "priors.lean_west_deg": (-45, 45),
    "priors.lean_sigma_deg": (0, 45),
    "priors.squareness_deg": (-10, 10),
    "priors.squareness_sigma_deg": (0, 10),
    "priors.cone_deg": (-10, 10),
    "priors.cone_sigma_deg": (0, 10),
    "priors.droop_deg": (-5, 5),
    "priors.droop_sigma_deg": (0, 5),
    "priors.azimuth_scale_percent": (-10, 10),
    "priors.azimuth_scale_sigma_percent": (0, 10),
    "priors.altitude_scale_percent": (-10, 10),
    "priors.altitude_scale_sigma_percent": (0, 10),
    "priors.runout_sin_deg": (-5, 5),
    "priors.runout_cos_deg": (-5, 5),
    "priors.runout_sigma_deg": (0, 5),
    "priors.refraction_deg": (-1, 1),
    "priors.refraction_sigma_deg": (0, 1),
}

TABLES: dict[str, type[msgspec.Struct]] = {
    "": Kit,
    "telescope": Telescope,
    "finder": Finder,
    "eyepiece": Eyepiece,
    "azimuth": Circle,
    "altitude": Circle,
    "connection": Connection,
    "controller": Controller,
    "stop": Stop,
    "shim": Shim,
    "priors": PriorKeys,
    "eye": Eye,
}


def _fields(table: str) -> tuple[msgspec.structs.FieldInfo, ...]:
    return msgspec.structs.fields(TABLES[table])


def _belongs(table: str) -> str:
    """Where a key of that table stands in the file."""
    if not table:
        return "It belongs at the top of the file, above every heading"
    heading = f"[[{table}]]" if table in ("eyepiece", "shim") else f"[{table}]"
    return f"It belongs under {heading}"


def _check_table(table: str, given: Mapping[str, Any], at: str) -> None:
    """Keys that nobody knows, values of another kind, numbers out of bounds, keys left out.

    ``table``: its name in :data:`TABLES`; ``at``: its place in the file, as "eyepiece[1]". Each
    raises :class:`UserError` with key, value and remedy; the decoder then has nothing to refuse.
    """
    fields = {f.name: f for f in _fields(table)}
    for key, value in given.items():
        if key not in fields:
            raise _unknown(key, table, at, value)
        _check_value(table, fields[key], value, at)
    for f in fields.values():
        if f.required and f.name not in given:
            raise UserError(f"kit key '{at}' without '{f.name}'", "that key", "Add it")


def _unknown(key: str, table: str, at: str, value: object) -> UserError:
    known = [f.name for f in _fields(table)]
    near = difflib.get_close_matches(key, known, 1, 0.5)
    home = [t for t in TABLES if key in (f.name for f in _fields(t))]
    if home and home != [table]:
        hint = _belongs(home[0])
    elif near:
        hint = f"Did you mean '{near[0]}'?"
    else:
        hint = "Remove it; docs/kit.md lists all keys"
    path = f"{at}.{key}" if at else key
    return UserError(f"kit key '{path}' = {value!r}", f"one of {', '.join(known)}", hint)


def _check_value(table: str, f: msgspec.structs.FieldInfo, value: Any, at: str) -> None:
    """One value of a table, or the tables that it holds."""
    path = f"{at}.{f.name}" if at else f.name
    wrong = UserError(
        f"kit key '{path}' = {value!r}",
        _wanted(f.type),
        "Correct or remove it; docs/kit.md lists all keys",
    )
    if f.name in TABLES:
        blocks = get_origin(f.type) is tuple
        if not isinstance(value, list if blocks else Mapping):
            raise wrong
        for k, row in enumerate(value if blocks else [value]):
            place = f"{path}[{k}]" if blocks else path
            if not isinstance(row, Mapping):
                raise UserError(f"kit key '{place}' = {row!r}", _TABLE, "Write it as a table")
            _check_table(f.name, row, place)
        return
    try:
        msgspec.convert(value, f.type)
    except msgspec.ValidationError:
        raise wrong from None
    bounds = BOUNDS.get(f"{table}.{f.name}" if table else f.name)
    if bounds is not None and value is not None and not bounds[0] <= value <= bounds[1]:
        # Also for nan, which is not within any bounds.
        remedy = "Check its unit"
        if f.name == "ticks_per_turn" and value < 0:
            remedy = "Write it without the minus and set reversed = true"
        raise UserError(
            f"kit key '{path}' = {value!r}", f"{bounds[0]:.8g} to {bounds[1]:.8g}", remedy
        )


_TABLE = "a table: its keys under a heading in [brackets]"
#: The kinds of value, as a person calls them.
_PLAIN = {
    float: "a decimal number",
    int: "a whole number",
    str: "text in quotes",
    bool: "true or false",
}


def _wanted(kind: Any) -> str:
    """What a value of that type looks like in the file."""
    if get_origin(kind) is Literal:
        return " or ".join(f'"{x}"' if isinstance(x, str) else str(x) for x in get_args(kind))
    if get_origin(kind) is tuple and get_origin(get_args(kind)[0]) is Literal:
        return f"texts in brackets, each {_wanted(get_args(kind)[0])}"
    if any(get_origin(k) is Literal for k in get_args(kind)):
        return " or ".join(_wanted(k) for k in get_args(kind))
    if kind == tuple[str, ...]:
        return 'texts in brackets, as ["Capella", "Deneb"]'
    if get_origin(kind) is tuple:
        return "blocks: each under a heading in [[double brackets]]"
    plain = [_PLAIN[k] for k in (kind, *get_args(kind)) if k in _PLAIN]
    return plain[0] if plain else _TABLE


#: What else people call a sign, and a list that a controller has.
_SIGNS = {1: "measured-minus-true", -1: "true-minus-measured"}
_LISTS = {"m": "M", "messier": "M", "ngc": "NGC", "ic": "IC", "c": "C", "caldwell": "C"}


def _with_names(raw: Mapping[str, Any]) -> Mapping[str, Any]:
    """An eyepiece that has no name is called by its focal length."""
    blocks = raw.get("eyepiece")
    if not isinstance(blocks, list):
        return raw
    return {**raw, "eyepiece": [_with_name(x) for x in blocks]}


def _with_name(block: Any) -> Any:
    if not isinstance(block, Mapping) or "name" in block:
        return block
    focal = block.get("focal_length_mm")
    number = isinstance(focal, int | float)  # anything else is refused by its own key
    return {"name": f"{focal:g} mm" if number else "", **block}


def _told(raw: Mapping[str, Any]) -> Mapping[str, Any]:
    """The controller's sign may also be written as 1 or -1, its catalogues in any letters and by
    their whole names."""
    box = raw.get("controller")
    if not isinstance(box, Mapping):
        return raw
    told = dict(box)
    if type(box.get("sign")) is int:
        told["sign"] = _SIGNS.get(box["sign"], box["sign"])
    lists = box.get("catalogues")
    if isinstance(lists, list) and all(isinstance(x, str) for x in lists):
        told["catalogues"] = [_LISTS.get(x.strip().casefold(), x.strip()) for x in lists]
    return {**raw, "controller": told}


def from_mapping(raw: Mapping[str, Any]) -> Kit:
    """Build and check a kit from decoded TOML or JSON. Raises :class:`UserError`."""
    raw = _with_names(_told(raw))
    _check_table("", raw, "")
    return check(msgspec.convert(raw, Kit))


def check(kit: Kit) -> Kit:
    """What no single bound can say. Returns the kit unchanged or raises :class:`UserError`."""
    for e in kit.eyepiece:
        if e.field_stop_mm is None and e.apparent_field_deg is None:
            raise UserError(
                f"eyepiece '{e.name}' without a field",
                "field_stop_mm, or apparent_field_deg",
                "Add the one you know; the field stop is the better",
            )
    names = [e.name for e in kit.eyepiece]
    for n in names:
        if names.count(n) > 1:
            raise UserError(f"two eyepieces named '{n}'", "one of each name", "Rename one")
    t = kit.telescope
    if t.min_alt_deg >= t.max_alt_deg:
        raise UserError(
            f"kit key 'telescope.min_alt_deg' = {t.min_alt_deg:g}",
            f"less than max_alt_deg ({t.max_alt_deg:g})",
            "Swap or correct them",
        )
    if kit.finder.aperture_mm > 0.0 and kit.finder.magnification < 2.0:
        raise UserError(
            "a finder with 'finder.aperture_mm' and no 'finder.magnification'",
            "both: of an 8x50 finder 50 and 8",
            "Add it, or leave the aperture out for a sight or a red dot",
        )
    c = kit.connection
    if c.kind == "serial" and not c.device:
        raise UserError(
            "a serial connection without 'connection.device'",
            "the port's name, as /dev/ttyUSB0 or COM3",
            "Add it, or set kind = 'typed'",
        )
    if c.kind == "tcp" and not (c.host and c.port):
        raise UserError(
            "a tcp connection without 'connection.host' and 'connection.port'",
            "both",
            "Add them, or set kind = 'typed'",
        )
    if c.heard:
        for axis, circle in (("azimuth", kit.azimuth), ("altitude", kit.altitude)):
            if not circle.ticks_per_turn:
                raise UserError(
                    f"encoders without '{axis}.ticks_per_turn'",
                    "the count in one whole turn of the mount",
                    "Add it: turn once round and see what the count has changed by",
                )
    return kit


def load(path: Path) -> Kit:
    """Read a kit file. Raises :class:`UserError` naming the file, key, value and remedy."""
    return loads(files.read_text(path, "the kit file", "a readable TOML file"), str(path))


def loads(text: str, source: str = "the kit") -> Kit:
    """Read a kit from TOML text. Raises :class:`UserError`."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as e:
        raise UserError(f"{source}: {e}", "valid TOML", "See the example in docs/kit.md") from None
    try:
        return from_mapping(raw)
    except UserError as e:
        raise e.within(source) from None


def example_text() -> str:
    """The commented example, which is also the demo's kit."""
    return resources.files("plumbstar.kit").joinpath("example.toml").read_text(encoding="utf-8")


def template_text() -> str:
    """What a new kit file begins as: nobody's telescope, six lines to fill in."""
    return resources.files("plumbstar.kit").joinpath("template.toml").read_text(encoding="utf-8")


def example() -> Kit:
    """The demo's telescope, read from the commented example."""
    return loads(example_text(), "the example kit")
