"""Kit texts changed by what was ticked on a page: a table replaced, the rest as it was."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping

import msgspec

from plumbstar.kit.model import Controller, Eyepiece


def with_blocks(text: str, heading: str, blocks: Iterable[str]) -> str:
    """Kit text with every block under that heading (as ``[controller]``) replaced by these."""
    body = re.sub(rf"(?m)^{re.escape(heading)}.*\n?(?:(?!\[).*(?:\n|\Z))*", "", text)
    return "\n\n".join([body.rstrip(), *(b.strip() for b in blocks)]).lstrip() + "\n"


def _block(heading: str, values: Mapping[str, object]) -> str:
    # JSON's texts, numbers, booleans and lists are TOML's too.
    lines = [f"{k} = {json.dumps(v, ensure_ascii=False)}" for k, v in values.items()]
    return "\n".join([heading, *lines])


def with_controller(text: str, controller: Controller) -> str:
    """The kit's encoders are in that closed controller."""
    text = with_blocks(text, "[connection]", [_block("[connection]", {"kind": "controller"})])
    values = msgspec.to_builtins(controller)
    return with_blocks(text, "[controller]", [_block("[controller]", values)])


def without_controller(text: str) -> str:
    """The readings are typed again."""
    text = with_blocks(text, "[connection]", [_block("[connection]", {"kind": "typed"})])
    return with_blocks(text, "[controller]", [])


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
