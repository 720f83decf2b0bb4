"""The evening beside a closed controller, as the pages show it."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.contract.beside import (
    BesideFind,
    BesideKitRecord,
    BesideMistake,
    BesidePush,
    BesideRecord,
    BesideSharing,
    BesideSweep,
    BesideTap,
    OfferedStar,
    OfferedStars,
)
from plumbstar.contract.parts import PatchRecord
from plumbstar.controller.outlook import Mistake, Outlook
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.places import log_name
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.text import words
from plumbstar.web.evening.beside import PushOn, entry_words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import rounded

#: Stars offered to tick off: with a name, and at least as bright as this.
OFFERED_MAG = 3.0
#: A mistake less likely than this is not named.
NAMED = 0.05

_SHARING = {
    "first": "all of the difference at the second star",
    "shared": "half of the difference at each star",
    "second": "all of the difference at the first star",
    "between": "a part of the difference at each star, one more than the other",
}


def beside_record(e: Evening) -> BesideRecord | None:
    """All of it; None for a kit with another connection."""
    if not e.beside.in_use:
        return None
    seen = e.beside.outlook
    display = e.display
    back = display.look_back
    number = display.number
    taps = _taps(e)
    stars = tuple(s.star for s in display.stars) if len(display.stars) == 2 else e.plan.names[:2]
    last = display.entries[-1] if display.entries else None
    return BesideRecord(
        kit=_kit(e.kit),
        step=_step(e),
        stars=stars,
        taps=taps,
        slow_hands=e.beside.slow_hands(),
        number_deg=number.number_deg if number is not None else None,
        answer=_answer(e, seen) if seen is not None and number is not None else "",
        meaning=_meaning(seen) if seen is not None and number is not None else "",
        mistakes=_mistakes(e, seen) if seen is not None else (),
        look_back_deg=(back.left_az_deg or 0.0, back.left_alt_deg or 0.0) if back else None,
        sharing=_sharing(seen) if seen is not None else (),
        sharing_words=_sharing_words(seen) if seen is not None and back is not None else "",
        push=_push(e),
        finds=tuple(
            BesideFind(
                target=f.star,
                utc=f.utc.iso(),
                found=f.event == "centred",
                left_az_deg=f.left_az_deg,
                left_alt_deg=f.left_alt_deg,
            )
            for f in display.finds
        ),
        takes_back=entry_words(last) if last is not None else "",
        rehearsed_s=display.rehearsed_s,
    )


def _kit(kit: Kit) -> BesideKitRecord:
    box = kit.controller
    return BesideKitRecord(
        stars=box.stars,
        clock="unknown" if box.has_clock is None else "yes" if box.has_clock else "no",
        sign=box.sign,
        decimals=box.decimals,
        aperture_m=kit.telescope.aperture_mm / 1000.0,
        focal_length_m=kit.telescope.focal_length_mm / 1000.0,
    )


def _step(e: Evening) -> str:
    """What is to be asked next."""
    display = e.display
    if not e.kit.controller.stars:
        return "kit"
    stars = len(display.stars)
    if stars < 2 and len(e.plan.names) < 2:
        return "pair"
    if stars == 0:
        upright = any(x.event == "upright" for x in display.alignment)
        return "first" if upright else "upright"
    if stars == 1:
        return "second"
    if display.number is None:
        return "number"
    return "look_back" if display.look_back is None and not display.centred else "find"


def _taps(e: Evening) -> tuple[BesideTap, ...]:
    three = [x for x in e.display.alignment if x.event in ("upright", "star")]
    return tuple(
        BesideTap(
            event=x.event,
            star=x.star,
            utc=x.utc.iso(),
            after_s=rounded(x.unix - three[0].unix, 1),
        )
        for x in three
    )


def _answer(e: Evening, seen: Outlook) -> str:
    zero, on = e.beside.mean_chances()
    name = e.instrument.eyepiece.name
    if e.display.look_back is None:
        return (
            f"At the controller’s zero {words.chance(zero)} objects will be in the {name} field. "
            f"Pushed on as this page then says: {words.chance(on)}."
        )
    return (
        f"Pushed on as this page says, {words.chance(on)} objects will be in the {name} field; "
        f"at the controller’s zero alone {words.chance(zero)}."
    )


def _meaning(seen: Outlook) -> str:
    stop, sigma = (math.degrees(x) for x in seen.stop())
    way = "higher" if stop > 0 else "lower"
    if abs(stop) < sigma:
        return f"The stop may be true: it is off by {stop:+.1f}° ± {sigma:.1f}°."
    return (
        f"At the stop the tube points about {abs(stop):.1f}° (± {sigma:.1f}°) {way} than the "
        "controller takes it to."
    )


def mistake_words(e: Evening, m: Mistake) -> str:
    """What may have gone wrong, and what to do."""
    display = e.display
    centred = display.centred
    match m.kind:
        case "star":
            star = display.stars[m.index].star
            return f"{star} was another star, or not in the middle. Start again from the stop."
        case "number":
            return "The number was misread or mistyped. Look at it again, and type it anew."
        case "find":
            return f"{centred[m.index].star} was not what was centred, or its numbers were misread."
        case "slip" if m.index == 0:
            return "The tube slipped on its bearings or the base moved after the second star."
        case "slip":
            return (
                f"Something slipped between {centred[m.index - 1].star} and "
                f"{centred[m.index].star}. The pushes go by what was centred since."
            )
    return ""


def _mistakes(e: Evening, seen: Outlook) -> tuple[BesideMistake, ...]:
    return tuple(
        BesideMistake(
            sentence=mistake_words(e, m),
            probability=round(p, 3),
            probability_words=words.chance(p),
        )
        for m, p in seen.mistakes()
        if m.kind != "none" and p >= NAMED
    )


def _sharing(seen: Outlook) -> tuple[BesideSharing, ...]:
    return tuple(
        BesideSharing(
            way=way,
            words=_SHARING[way],
            probability=round(p, 3),
            probability_words=words.chance(p),
        )
        for way, p in sorted(seen.sharing().items(), key=lambda f: -f[1])
    )


def _sharing_words(seen: Outlook) -> str:
    way, p = max(seen.sharing().items(), key=lambda f: f[1])
    if p < 0.7:
        return "How it shares the difference between its two stars is not clear yet."
    return f"It leaves {_SHARING[way]} ({words.chance(p)})."


def _push(e: Evening) -> BesidePush | None:
    target = e.target
    if target is None or e.guidance.refused is not None or e.display.number is None:
        return None
    try:
        on = e.beside.push_on()
    except UserError:
        return None
    if on is None:
        return None
    return _push_record(e, on)


def _push_record(e: Evening, on: PushOn) -> BesidePush:
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
        words=push_words(az, alt),
        patch=PatchRecord(
            major_deg=rounded(major, 4), minor_deg=rounded(minor, 4), angle_deg=rounded(angle, 1)
        ),
        hit_chance=rounded(on.lies.hit_chance, 3),
        hit_chance_words=words.chance(on.lies.hit_chance),
        hit_chance_at_zero=rounded(on.lies.hit_chance_at_zero if known else 0.0, 3),
        hit_chance_at_zero_words=words.chance(on.lies.hit_chance_at_zero if known else 0.0),
        sweep=_sweep(e, on),
    )


def push_words(az_deg: float, alt_deg: float) -> str:
    """As a hand is told: "0.4° left and 0.2° up"."""
    parts = []
    if abs(az_deg) >= 0.05:
        parts.append(f"{abs(az_deg):.1f}° {'right' if az_deg > 0 else 'left'}")
    if abs(alt_deg) >= 0.05:
        parts.append(f"{abs(alt_deg):.1f}° {'up' if alt_deg > 0 else 'down'}")
    return " and ".join(parts)


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


def offered_stars() -> OfferedStars:
    """Bright stars with names, by name: to be ticked off the controller's own list."""
    stars = [s for s in catalogue.load() if s.name and s.v_mag <= OFFERED_MAG]
    return OfferedStars(
        stars=tuple(
            OfferedStar(name=s.name, constellation=CONSTELLATIONS[s.constellation][0])
            for s in sorted(stars, key=lambda s: s.name)
        )
    )
