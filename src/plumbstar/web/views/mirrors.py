"""The mirrors' photograph, judged on the thinking thread."""

from __future__ import annotations

import base64
import io
import math
from typing import Any, TypeVar

from plumbstar import collimate
from plumbstar.contract.mending import PhotographAnswer
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.web.views.numbers import number

T = TypeVar("T", float, None)


def photograph(data: bytes, kit: Kit, options: dict[str, str]) -> PhotographAnswer:
    """Judge a picture of a defocused star; the circles found come back drawn in.

    With ``first=N`` among the options the body holds two pictures, the first N bytes long: racked
    out and racked in. Together they part coma from what else moves the shadow.
    """
    if not data:
        raise UserError("No picture came", "", "Choose a picture")

    def asked(name: str, usual: T) -> float | T:
        text = options.get(name, "").strip().replace(",", ".")
        if not text:
            return usual
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise UserError(f"{name} '{text[:20]}'", "a number", "Type it again")
        return value

    cut = int(asked("first", len(data)))
    if not 0 < cut <= len(data):
        raise UserError("The two pictures did not arrive whole", "", "Choose them again")

    def judged(image: Any, file: bytes) -> collimate.Collimation:
        return collimate.judge(
            image,
            asked("focal_ratio", kit.telescope.focal_ratio),
            defocus_mm=asked("defocus_mm", None),
            up_clock=asked("up_clock", 12.0),
            mirrored=options.get("mirrored", "") in ("1", "true", "yes"),
            camera=collimate.camera_of(file),
        )

    image = collimate.load_photo(data[:cut])
    result = judged(image, data[:cut])
    if cut < len(data):
        result = collimate.combine(result, judged(collimate.load_photo(data[cut:]), data[cut:]))
    off = result.can_judge and result.severity != "centred"
    overlay = None
    if result.can_judge:
        drawn = io.BytesIO()
        collimate.overlay(image, result, 900).save(drawn, "JPEG", quality=80)
        overlay = "data:image/jpeg;base64," + base64.b64encode(drawn.getvalue()).decode()
    return PhotographAnswer(
        sentence=result.verdict or result.reason,
        turn=result.turn,
        caveats=(*result.caveats, *(f"{a.on_pages()}." for a in collimate.advice(result))),
        can_judge=result.can_judge,
        sides=result.sides,
        severity=result.severity,
        offset_percent=number(100.0 * result.offset_fraction, 2),
        offset_sigma_percent=number(100.0 * result.offset_sigma, 2),
        clock_hours=number(result.clock, 1),
        seen_clock_hours=number(result.seen_clock, 1),
        seen=collimate.clock_words(result.seen_clock) if off else "",
        obstruction_percent=number(100.0 * result.obstruction, 1),
        overlay=overlay,
    )
