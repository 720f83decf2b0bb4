"""How to go on from a closed controller's zero, as the pages show it."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.contract.beside import BesidePush, BesideSweep
from plumbstar.contract.parts import PatchRecord
from plumbstar.errors import UserError
from plumbstar.guide.searching import fields
from plumbstar.logbook.places import log_name
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.push_on import PushOn
from plumbstar.web.views.numbers import rounded

#: From so high on sideways pushes are several times as long as on the sky: 1 / cos 80 is 6.
OVERHEAD_DEG = 80.0


def push_record(e: Evening) -> BesidePush | None:
    target = e.target
    if target is None or e.guidance.ban is not None or e.display.number is None:
        return None
    try:
        on = e.beside.push_on()
    except UserError:
        return None
    if on is None:
        return None
    return _record(e, on)


def _record(e: Evening, on: PushOn) -> BesidePush:
    assert e.target is not None
    right, up = (math.degrees(x) for x in on.on_sky)
    az, alt = (math.degrees(float(x)) for x in on.push)
    values, axes = np.linalg.eigh(on.lies.cov)
    major, minor = (math.degrees(math.sqrt(max(float(v), 0.0))) for v in values[::-1])
    angle = math.degrees(math.atan2(axes[1, 1], axes[0, 1]))
    known = on.start.key == e.target.key
    return BesidePush(
        from_name=log_name(on.start),
        from_label=on.start.label,
        known=known,
        push_az_deg=rounded(az, 2),
        push_alt_deg=rounded(alt, 2),
        right_deg=rounded(right, 3),
        up_deg=rounded(up, 3),
        words=words.push_on(az, alt),
        patch=PatchRecord(
            major_deg=rounded(major, 4), minor_deg=rounded(minor, 4), angle_deg=rounded(angle, 1)
        ),
        hit_chance=rounded(on.lies.hit_chance, 3),
        hit_chance_words=words.chance(on.lies.hit_chance),
        hit_chance_at_zero=rounded(on.lies.hit_chance_at_zero if known else 0.0, 3),
        hit_chance_at_zero_words=words.chance(on.lies.hit_chance_at_zero if known else 0.0),
        warnings=_warnings(e, on),
        sweep=_sweep(e, on),
    )


def _searched(e: Evening, on: PushOn) -> tuple[str, ...]:
    """That it was looked for before, and not found since; whether this aims elsewhere."""
    name = log_name(on.target)
    looked: list[int] = []
    for x in e.display.alignment:
        if x.star == name:
            looked = [*looked, len(x.looked)] if x.event == "missed" else []
    if not sum(looked):
        return ()
    told = f"You looked for it in {fields(sum(looked))} before."
    if on.lies.cloud is not None:
        return (f"{told} This aims beside them.",)
    return (
        f"{told} It should have been there: it may be too faint to see, or see Mend for "
        "what may be wrong.",
    )


def _warnings(e: Evening, on: PushOn) -> tuple[str, ...]:
    """What makes it harder: too low, behind a tree, overhead; or that it was not found before."""
    return (*_searched(e, on), *_hard_to_reach(e))


def _hard_to_reach(e: Evening) -> tuple[str, ...]:
    placed = e.guidance.target_now(e.now())
    if placed is None:
        return ()
    _, az, alt = placed
    if alt < 0.0:
        return ("It is below the horizon now.",)
    if alt < float(e.ground.skyline.altitude_deg(az)):
        return ("It is behind your skyline now.",)
    if alt > e.kit.telescope.max_alt_deg:
        return (f"It is {alt:.0f}° up, higher than your tube goes.",)
    if alt > OVERHEAD_DEG:
        return ("It is almost overhead: a little on the sky is a long way to the left or right.",)
    return ()


def _sweep(e: Evening, on: PushOn) -> BesideSweep | None:
    path = e.search.under_way
    if path is None or path.over:
        return None
    right, up = path.stops[path.index]
    cos_alt = max(0.02, math.cos(on.alt))
    return BesideSweep(
        index=path.index,
        stops_deg=path.stops,
        found_by=tuple(rounded(x, 3) for x in path.found_by),
        found_by_words=words.chance(path.found_by[path.index]),
        push_az_deg=rounded(math.degrees(float(on.push[0])) + right / cos_alt, 2),
        push_alt_deg=rounded(math.degrees(float(on.push[1])) + up, 2),
    )
