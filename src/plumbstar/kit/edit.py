"""Kit texts changed by what was ticked on a page: those keys set, the rest as it was written."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping

import msgspec

from plumbstar.kit.model import Circle, Connection, Controller, Eyepiece, Kit

#: A heading of its own line, and what is under it up to the next.
_UNDER = r"(?m)^{heading}[^\n]*\n?(?:(?!\[)[^\n]*(?:\n|\Z))*"


def with_blocks(text: str, heading: str, blocks: Iterable[str]) -> str:
    """Kit text with every block under that heading (as ``[controller]``) replaced by these."""
    body = re.sub(_UNDER.format(heading=re.escape(heading)), "", _headed(text))
    return "\n\n".join([body.rstrip(), *(b.strip() for b in blocks)]).lstrip() + "\n"


def with_keys(text: str, heading: str, values: Mapping[str, object]) -> str:
    """Kit text with these keys of one table set; its other keys and its remarks stay."""
    text = _headed(text)
    found = re.search(_UNDER.format(heading=re.escape(heading)), text)
    if found is None:
        return "\n\n".join([text.rstrip(), _block(heading, values)]).lstrip() + "\n"
    first, *lines = found.group().rstrip("\n").split("\n")
    for key, value in values.items():
        lines = _with_key(lines, key, _line(key, value))
    block = "\n".join([first, *lines]) + "\n"
    return text[: found.start()] + block + text[found.end() :]


def _headed(text: str) -> str:
    """The text as it is, if every table in it stands under its own heading; else (as with
    ``telescope = {aperture_mm = 200}``) the same values written so."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return text
    tables = [k for k, v in raw.items() if isinstance(v, dict) or (_blocks(v) and v)]
    if all(re.search(rf"(?m)^\[\[?{re.escape(k)}\]", text) for k in tables):
        return text
    plain = {k: v for k, v in raw.items() if k not in tables}
    parts = ["\n".join(_line(k, v) for k, v in plain.items())]
    for k in tables:
        many = _blocks(raw[k])
        heading = f"[[{k}]]" if many else f"[{k}]"
        parts += [_block(heading, v) for v in (raw[k] if many else [raw[k]])]
    return "\n\n".join(p for p in parts if p) + "\n"


def _blocks(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(x, dict) for x in value)


def _with_key(lines: list[str], key: str, line: str) -> list[str]:
    """Lines of one table with that key's own, however many it takes up, replaced."""
    for i, written in enumerate(lines):
        if not re.match(rf"\s*(?:{re.escape(key)}|\"{re.escape(key)}\")\s*=", written):
            continue
        end = next((k for k in range(i + 1, len(lines) + 1) if _whole(lines[i:k])), i + 1)
        return [*lines[:i], line, *lines[end:]]
    return [line, *lines]


def _whole(lines: list[str]) -> bool:
    """Whether they are TOML: a list may go over several lines."""
    try:
        tomllib.loads("\n".join(lines))
    except tomllib.TOMLDecodeError:
        return False
    return True


def _line(key: str, value: object) -> str:
    # JSON's texts, numbers, booleans and lists are TOML's too.
    return f"{key} = {json.dumps(value, ensure_ascii=False)}"


def _block(heading: str, values: Mapping[str, object]) -> str:
    return "\n".join([heading, *(_line(k, v) for k, v in values.items())])


def with_controller(text: str, kit: Kit, controller: Controller) -> str:
    """The kit's encoders are in that closed controller. How else they are connected stays in the
    text, for the day on which they are again."""
    now = kit.connection
    before = now.otherwise if now.kind == "controller" else now.kind
    keys = {"kind": "controller", **({"otherwise": before} if before != "typed" else {})}
    text = with_keys(text, "[connection]", keys)
    return with_keys(text, "[controller]", msgspec.to_builtins(controller))


def without_controller(text: str, kit: Kit) -> str:
    """The encoders are connected as they were before, or the readings typed. What is known of the
    controller stays in the text."""
    return with_keys(text, "[connection]", {"kind": kit.connection.otherwise})


def with_telescope(
    text: str, aperture_mm: float, focal_length_mm: float, eyepieces: Iterable[Eyepiece]
) -> str:
    """The tube's two measures and the eyepieces; the other keys of the tube stay."""
    text = _headed(text)
    found = re.search(r"(?m)^\[telescope\].*\n(?:(?!\[).*(?:\n|\Z))*", text)
    kept = re.sub(r"(?m)^(aperture_mm|focal_length_mm)\b.*\n", "", found.group()) if found else ""
    rest = "\n".join(kept.splitlines()[1:]).strip()
    measures = {"aperture_mm": aperture_mm, "focal_length_mm": focal_length_mm}
    tube = f"{_block('[telescope]', measures)}\n{rest}"
    blocks = [
        _block(
            "[[eyepiece]]", {k: v for k, v in msgspec.structs.asdict(e).items() if v is not None}
        )
        for e in eyepieces
    ]
    return with_blocks(with_blocks(text, "[telescope]", [tube]), "[[eyepiece]]", blocks)


def with_name(text: str, name: str) -> str:
    """What the telescope is called, at the top of the text."""
    return with_top(text, "name", name)


def with_top(text: str, key: str, value: object) -> str:
    """A key above every heading set; it may have been written over several lines."""
    lines = text.split("\n")
    head = next((i for i, x in enumerate(lines) if x.lstrip().startswith("[")), len(lines))
    line = _line(key, value)
    top = _with_key(lines[:head], key, line)
    if len(top) <= head:
        return "\n".join([*top, *lines[head:]])
    return "\n".join([line, "", *lines]) if text.strip() else line + "\n"


def with_readings(
    text: str, azimuth: Circle, altitude: Circle, connection: Connection, zero: bool | None
) -> str:
    """How readings come, and from where the counts count (``zero``: None for not known); only what
    differs from the defaults is written, or stands in the text already."""
    now = tomllib.loads(text)
    for heading, told in (
        ("azimuth", azimuth),
        ("altitude", altitude),
        ("connection", connection),
    ):
        usual = msgspec.to_builtins(type(told)())
        keys = {
            k: v
            for k, v in msgspec.to_builtins(told).items()
            if v != usual[k] or k in now.get(heading, {})
        }
        if keys:
            text = with_keys(text, f"[{heading}]", keys)
    if zero is not None:
        text = with_keys(text, "[stop]", {"counts_from_zero": zero})
    return text
