"""The mirrors' photograph, judged on the thinking thread."""

from __future__ import annotations

import base64
import io
import math
from dataclasses import replace
from typing import TypeVar

from plumbstar import collimate
from plumbstar.contract.mending import PhotographAnswer
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.web.views.numbers import number

T = TypeVar("T", float, None)


class _Asked:
    """Numbers as the pages send them."""

    def __init__(self, options: dict[str, str]) -> None:
        self._options = options

    def number(self, name: str, usual: T) -> float | T:
        text = self._options.get(name, "").strip().replace(",", ".")
        return _typed(name, text) if text else usual

    def ticked(self, name: str) -> bool:
        return self._options.get(name, "") in ("1", "true", "yes")

    def star(self) -> collimate.StarPlace:
        name = self._options.get("star", "") or collimate.StarPlace.UNTOLD.value
        try:
            return collimate.StarPlace(name)
        except ValueError:
            wanted = ", ".join(place.value for place in collimate.StarPlace)
            raise UserError(f"star '{name[:20]}'", f"one of {wanted}", "Say it again") from None

    def numbers(self, name: str) -> list[float]:
        text = self._options.get(name, "").strip()[:1000]
        return [_typed(name, x) for x in text.split(",")] if text else []


def _typed(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UserError(f"{name} '{text[:20]}'", "a number", "Type it again")
    return value


def photograph(data: bytes, kit: Kit, options: dict[str, str]) -> PhotographAnswer:
    """Judge a picture of a defocused star; the circles found come back drawn in.

    With ``first=N`` among the options the body holds two pictures, the first N bytes long: racked
    out and racked in. Together they part coma from what else moves the shadow. ``lens_mm`` and
    ``lens_second_mm`` tell the lens, as for 35 mm film.
    """
    asked = _Asked(options)
    if not data:
        raise UserError("No picture came", "", "Choose a picture")

    cut = int(asked.number("first", float(len(data))))
    if not 0 < cut <= len(data):
        raise UserError("The two pictures did not arrive whole", "", "Choose them again")

    def judged(photo: collimate.Photo, lens: str) -> collimate.Collimation:
        # The pages send pixels and the lens beside them; a program may send the file as it is.
        mm = asked.number(lens, None)
        camera = photo.camera if mm is None else collimate.Camera.told(mm)
        camera = replace(camera, star=asked.star())
        return collimate.judge(
            photo.pixels,
            asked.number("focal_ratio", kit.telescope.focal_ratio),
            defocus_mm=asked.number("defocus_mm", None),
            up_clock=asked.number("up_clock", 12.0),
            mirrored=asked.ticked("mirrored"),
            camera=camera,
        )

    first = collimate.read_photo(data[:cut])
    result = judged(first, "lens_mm")
    if cut < len(data):
        other = collimate.read_photo(data[cut:])
        result = collimate.combine(result, judged(other, "lens_second_mm"))
    overlay = None
    if result.can_judge:
        drawn = io.BytesIO()
        collimate.overlay(first.pixels, result, 900).save(drawn, "JPEG", quality=80)
        overlay = "data:image/jpeg;base64," + base64.b64encode(drawn.getvalue()).decode()
    return _answer(result, overlay)


def by_eye(kit: Kit, options: dict[str, str]) -> PhotographAnswer:
    """Judge ring and shadow as set by eye: ``set`` holds right, down, shadow of each setting, in
    parts of 100 of the ring's radius, all joined by commas; ``set_second`` the same from the other
    side of focus, where somebody looked from there."""
    asked = _Asked(options)

    def judged(name: str) -> collimate.Collimation:
        v = asked.numbers(name)
        if len(v) % 3:
            raise UserError("A setting did not arrive whole", "", "Set the shadow again")
        at = [collimate.Setting(*(x / 100 for x in v[i : i + 3])) for i in range(0, len(v), 3)]
        return collimate.judge_by_eye(
            at,
            asked.number("focal_ratio", kit.telescope.focal_ratio),
            defocus_mm=asked.number("defocus_mm", None),
        )

    result = judged("set")
    if asked.numbers("set_second"):
        result = collimate.combine(result, judged("set_second"))
    return _answer(result, None)


def _answer(result: collimate.Collimation, overlay: str | None) -> PhotographAnswer:
    off = result.can_judge and result.severity != "centred"
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
