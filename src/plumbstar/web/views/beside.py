"""The evening beside a closed controller, as the pages show it."""

from __future__ import annotations

import math

import msgspec

from plumbstar.contract.beside import (
    BesideEyepiece,
    BesideFind,
    BesideKitRecord,
    BesideMistake,
    BesideRecord,
    BesideSharing,
    BesideTap,
    OfferedStar,
    OfferedStars,
)
from plumbstar.controller.mistakes import BEFOREHAND, Mistake
from plumbstar.controller.outlook import Outlook
from plumbstar.controller.own_list import labels_of
from plumbstar.controller.say import stop_words
from plumbstar.kit import Kit
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.text import words
from plumbstar.web.evening.beside import entry_words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.beside_push import push_record
from plumbstar.web.views.numbers import rounded

#: Stars offered to tick off: with a name, and at least as bright as this.
OFFERED_MAG = 3.0
#: Nor one that what was shown has not made so many times likelier than it is on any evening.
SPEAKS_FOR = 2.0
#: With less than this a wider eyepiece is named. Common practice, no source.
WELL = 0.8
#: A mistake less likely than this is not named.
NAMED = 0.05

_SHARING = {
    "first": "goes by its first star, and leaves the whole difference at the second",
    "shared": "shares the difference evenly between its two stars",
    "second": "goes by its second star, and leaves the whole difference at the first",
    "between": "shares the difference between its two stars, but not evenly",
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
        upright_unix_ms=_upright_ms(e),
        taps_words=_taps_words(taps),
        pair_words=_pair_words(e),
        slow_hands=e.beside.slow_hands(),
        number_deg=number.number_deg if number is not None else None,
        answer=_answer(e) if seen is not None and number is not None else "",
        meaning=stop_words(*(math.degrees(x) for x in seen.stop()))
        if seen is not None and number is not None
        else "",
        mistakes=_mistakes(e, seen) if seen is not None else (),
        start_again=seen is not None and _start_again(seen),
        look_back_deg=(back.left_az_deg or 0.0, back.left_alt_deg or 0.0) if back else None,
        sharing=_sharing(seen) if seen is not None else (),
        sharing_words=sharing_words(seen) if seen is not None and back is not None else "",
        push=push_record(e),
        finds=tuple(
            BesideFind(
                target=f.star,
                utc=f.utc.iso(),
                found=f.event == "centred",
                now=f.press not in e.desk.came_before,
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
        stars=labels_of(box),
        catalogues=box.catalogues,
        clock="unknown" if box.has_clock is None else "yes" if box.has_clock else "no",
        sign=box.sign,
        decimals=box.decimals,
        aperture_m=kit.telescope.aperture_mm / 1000.0,
        focal_length_m=kit.telescope.focal_length_mm / 1000.0,
        eyepieces=tuple(BesideEyepiece(**msgspec.structs.asdict(x)) for x in kit.eyepiece),
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
            after_s=rounded(x.at_unix - three[0].at_unix, 1),
        )
        for x in three
    )


def _upright_ms(e: Evening) -> float | None:
    first = e.display.alignment[:1]
    return first[0].at_unix * 1000.0 if first and first[0].event == "upright" else None


def _taps_words(taps: tuple[BesideTap, ...]) -> str:
    """How long it took, where all three were tapped."""
    if len(taps) < 3:
        return ""
    between = taps[2].after_s - taps[1].after_s
    return (
        f"From the stop to the second star: {_span(taps[2].after_s)}, "
        f"{_span(between)} of it between the stars."
    )


def _span(seconds: float) -> str:
    """A span as it is said: 48 s, or 2 min 5 s."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def _pair_words(e: Evening) -> str:
    promised = e.beside.promised()
    if promised is None:
        return ""
    zero, _, on = promised
    return (
        f"{words.upper_first(words.chance(on))} objects will be in the "
        f"{e.instrument.eyepiece.name} field, once its number is typed and you have "
        f"looked back. By the controller alone: {words.chance(zero)}."
    )


def _answer(e: Evening) -> str:
    zero, on = e.beside.mean_chances()
    name = e.instrument.eyepiece.name
    if e.display.look_back is None:
        return (
            f"At the controller’s zero {words.chance(zero)} objects will be in the {name} field. "
            f"Pushed on as this page then says: {words.chance(on)}.{_wider(e, on)}"
        )
    return (
        f"Pushed on as this page says, {words.chance(on)} objects will be in the {name} field; "
        f"at the controller’s zero alone {words.chance(zero)}.{_wider(e, on)}"
    )


def _wider(e: Evening, chance: float) -> str:
    """What the widest eyepiece would give, where the one in use gives little."""
    kit, widest = e.kit, e.kit.finder_eyepiece()
    if chance > WELL or widest.name == e.instrument.eyepiece.name:
        return ""
    _, on = e.beside.mean_chances(kit.true_field_deg(widest))
    return f" In the {widest.name}: {words.chance(on)}. Find with that one." if on > chance else ""


def _meaning(seen: Outlook) -> str:
    stop, sigma = seen.stop()
    return stop_words(math.degrees(stop), math.degrees(sigma))


def mistake_words(e: Evening, m: Mistake, likely: bool) -> str:
    """What may have gone wrong, and what to do; what is not ``likely`` gives no orders."""
    return f"{mistake_evidence(e, m)} {mistake_mend(m, len(e.display.centred), likely)}"


def mistake_mend(m: Mistake, centred: int, likely: bool) -> str:
    """What to do. ``centred``: how many things were, the look back among them."""
    anew = "Start again from the stop." if likely else "If so, start again at the stop."
    return {
        "star": anew,
        "number": "Look at it again, and type it anew, on Sight.",
        "sign": "Look again whether it shows a minus.",
        "find": "Take it back, or centre it again.",
        "hand": "Centre with more power; or tell the kit how well you centre.",
        "mount": "The pushes allow for it. Many nights tell what to mend.",
        "slip": (
            "The pushes go by what was centred since."
            if 0 < m.index < centred
            else "Centre an object, or start again from the stop."
            if m.index
            else anew
        ),
    }.get(m.kind, "")


def mistake_evidence(e: Evening, m: Mistake) -> str:
    """What may have gone wrong."""
    display = e.display
    centred = display.centred
    match m.kind:
        case "hand":
            return "Stars were centred less well than the kit says."
        case "mount":
            return "A stop, or another part of the mount, some degrees off would fit."
        case "star":
            star = display.stars[m.index].star
            other = e.beside.taken_for(m.index)
            shows = "" if other is None else _would_show(other.star, other.would_show_deg)
            return f"{star} was another star, or not in the middle.{shows}"
        case "number":
            return "The number was misread or mistyped."
        case "sign":
            return "Plus and minus of the number were mixed up."
        case "find":
            return f"{centred[m.index].star} was not what was centred, or its numbers were misread."
        case "slip" if m.index == 0:
            return "The tube slipped on its bearings or the base moved after the second star."
        case "slip" if m.index == len(centred):
            return f"Something slipped since {centred[-1].star}."
        case "slip":
            return (
                f"Something slipped between {centred[m.index - 1].star} and "
                f"{centred[m.index].star}."
            )
    return ""


def _would_show(star: str, number_deg: float) -> str:
    return f" {star} in its place would show {number_deg:+.1f}°.".replace("-", "−")


def _start_again(seen: Outlook) -> bool:
    """Whether the two stars are likelier wrong than right: then nothing that follows is worth it.

    Which of the two, one number cannot tell."""
    return sum(p for m, p in seen.mistakes() if m.kind == "star") > 0.5


def _mistakes(e: Evening, seen: Outlook) -> tuple[BesideMistake, ...]:
    number = e.display.number
    return tuple(
        BesideMistake(
            sentence=mistake_words(e, m, _start_again(seen) or p > 0.5),
            probability=round(p, 3),
            probability_words=words.chance(p),
            number_deg=-number.number_deg
            if m.kind == "sign" and number is not None and number.number_deg is not None
            else None,
        )
        for m, p in seen.mistakes()
        if m.kind != "none" and p >= max(NAMED, SPEAKS_FOR * BEFOREHAND[m.kind])
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


def sharing_words(seen: Outlook) -> str:
    """Which way of sharing is known, in a sentence."""
    way, p = max(seen.sharing().items(), key=lambda f: f[1])
    if p < 0.7:
        return "How your controller shares the difference between its two stars is not clear yet."
    return f"Your controller {_SHARING[way]} ({words.chance(p)})."


def offered_stars() -> OfferedStars:
    """Bright stars with names, by name: to be ticked off the controller's own list."""
    stars = [s for s in catalogue.load() if s.name and s.v_mag <= OFFERED_MAG]
    return OfferedStars(
        stars=tuple(
            OfferedStar(name=s.name, constellation=CONSTELLATIONS[s.constellation][0])
            for s in sorted(stars, key=lambda s: s.name)
        )
    )
