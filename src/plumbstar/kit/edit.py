"""Kit texts changed by what was ticked on a page: those keys set, the rest as it was written."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping

import msgspec

from plumbstar.kit.model import Controller, Eyepiece, Kit

#: A heading of its own line, and what is under it up to the next.
_UNDER = r"(?m)^{heading}[^\n]*\n?(?:(?!\[)[^\n]*(?:\n|\Z))*"


def with_blocks(text: str, heading: str, blocks: Iterable[str]) -> str:
    """Kit text with every block under that heading (as ``[controller]``) replaced by these."""
    body = re.sub(_UNDER.format(heading=re.escape(heading)), "", text)
    return "\n\n".join([body.rstrip(), *(b.strip() for b in blocks)]).lstrip() + "\n"


def with_keys(text: str, heading: str, values: Mapping[str, object]) -> str:
    """Kit text with these keys of one table set; its other keys and its remarks stay."""
    found = re.search(_UNDER.format(heading=re.escape(heading)), text)
    if found is None:
        return "\n\n".join([text.rstrip(), _block(heading, values)]).lstrip() + "\n"
    first, *lines = found.group().rstrip("\n").split("\n")
    for key, value in values.items():
        lines = _with_key(lines, key, _line(key, value))
    block = "\n".join([first, *lines]) + "\n"
    return text[: found.start()] + block + text[found.end() :]


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
