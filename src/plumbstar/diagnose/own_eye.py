"""From the logbook's looks to the observer's own eye (targets/learnt_eye.py has the arithmetic).

The margin of each look is worked out again from its object, moment, site, kit and eyepiece, for the
nominal eye under the sky that was told that evening, or else the site's. Deep-sky objects only: two
stars are parted by another law, and planets are never hard.
"""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec

from plumbstar import kit as kits
from plumbstar.contract.answers.seen import OwnEyeReport
from plumbstar.contract.seen import HowSeen
from plumbstar.errors import UserError
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.worked_out import WorkedOut, kind
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.naming import lookup
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.asked import Place, alone
from plumbstar.targets.learnt_eye import LearntEye, LookFact, learn_eye
from plumbstar.targets.model import conditions_of

#: Older looks are of another eye, and cost time. The newest so many count.
MOST = 400
#: A sky so much darker, magnitudes, to see how the margin grows with it.
_DARKER = 0.3


class LookedAt(msgspec.Struct, frozen=True):
    """All that a look's margin rests on."""

    name: str
    utc: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    kit_text: str
    eyepiece: str
    zenith_mag: float | None


def zenith_of(faintest_mag: float) -> float:
    """The zenith's brightness under which the faintest star is of that magnitude: Schaefer's
    relation as the Open Astronomy Log's schema gives it (oal_Base.xsd, at fstOffset)."""
    return 21.568 - 5.0 * math.log10(max(10.0 ** (1.586 - faintest_mag / 5.0) - 1.0, 1e-3))


@lru_cache(maxsize=64)
def _kit(text: str) -> kits.Kit | None:
    try:
        return kits.loads(text)
    except UserError:
        return None


def margins(x: LookedAt) -> tuple[float, float] | None:
    """Over the threshold of a nominal eye, magnitudes, and by how much that grows when the sky is
    a magnitude darker; None for what is not judged so."""
    kit = _kit(x.kit_text)
    try:
        target = lookup.find_target(x.name)
        utc = Instant.parse(x.utc)
        site = Site(x.lat_deg, x.lon_deg, x.elevation_m)
    except UserError:
        return None
    if kit is None or not isinstance(target, DeepSky) or isinstance(target, Double):
        return None
    own = tuple(e for e in kit.eyepiece if e.name == x.eyepiece)
    kit = msgspec.structs.replace(kit, eyepiece=own or kit.eyepiece)
    out = []
    for darker in (0.0, _DARKER):
        sky = conditions_of(site, kit)
        sky = conditions_of(site, kit, zenith_mag=(x.zenith_mag or sky.zenith_mag) + darker)
        found = alone(target, utc, utc.plus_seconds(60.0), Place(site, kit, sky, Skyline()))
        if found is None or not math.isfinite(found.margin_mag):
            return None
        out.append(found.margin_mag)
    return out[0], (out[1] - out[0]) / _DARKER


_MARGINS = kind(tuple[float, float] | None)


def looked_at(
    book: Logbook, before: Instant | None = None
) -> list[tuple[LookedAt, HowSeen, int, bool]]:
    """The newest looks of outings begun before that moment: each with how it was seen, its outing,
    and whether a meter told the sky."""
    out: list[tuple[LookedAt, HowSeen, int, bool]] = []
    for o in reversed(book.outings()):
        if o.site is None or not o.kit_text or (before is not None and o.started >= before):
            continue
        skies = book.skies(o.id)
        told = skies[-1] if skies else None
        zenith, metered = o.site.zenith_mag, False
        if told is not None and told.zenith_mag is not None:
            zenith, metered = told.zenith_mag, True
        elif told is not None and told.faintest_mag is not None:
            zenith = zenith_of(told.faintest_mag)
        for x in book.looks(o.id):
            place = (o.site.lat_deg, o.site.lon_deg, o.site.elevation_m)
            at = LookedAt(x.target, x.utc.iso(), *place, o.kit_text, x.eyepiece, zenith)
            out.append((at, x.seen, o.id, metered))
        if len(out) >= MOST:
            break
    return out[:MOST]


def own_eye(book: Logbook, site: Site, before: Instant | None = None) -> LearntEye:
    """What the looks teach of the observer's eye, and of the sky over that site."""
    facts = []
    with WorkedOut.beside(book) as known:
        for at, seen, outing, metered in looked_at(book, before):
            found = known.of(_MARGINS, margins, at)
            if found is None:
                continue
            here = abs(at.lat_deg - site.lat_deg) < 0.05 and abs(at.lon_deg - site.lon_deg) < 0.07
            # Where a meter told it, or elsewhere, the looks say nothing of this site's sky.
            facts.append(
                LookFact(found[0], found[1] if here and not metered else 0.0, seen, outing)
            )
    return learn_eye(facts)


def eye_answer(eye: LearntEye) -> OwnEyeReport:
    """For programs."""
    return OwnEyeReport(
        learnt=eye.learnt,
        looks=eye.looks,
        not_seen=eye.not_seen,
        evenings=eye.evenings,
        eye_mag=eye.eye_mag,
        eye_sigma_mag=eye.eye_sigma_mag,
        sky_mag=eye.sky_mag,
        sky_sigma_mag=eye.sky_sigma_mag,
        spread_mag=eye.spread_mag,
    )


def sentence(eye: LearntEye | None) -> str:
    """Whose verdicts these are, for a person."""
    if eye is None or not eye.learnt:
        return ""
    shift, sigma = -eye.eye_mag, eye.eye_sigma_mag
    if abs(shift) < sigma:
        what = "it sees about as faint as was assumed"
    else:
        what = (
            f"it sees {abs(shift):.1f} mag {'fainter' if shift > 0 else 'less faint'} than assumed"
        )
    sky = ""
    if abs(eye.sky_mag) > eye.sky_sigma_mag:
        way = "darker" if eye.sky_mag > 0 else "brighter"
        sky = f", and this sky is {abs(eye.sky_mag):.1f} mag {way} (± {eye.sky_sigma_mag:.1f})"
    return f"Judged by your own eye, learnt from {eye.looks} looks: {what} (± {sigma:.1f}){sky}."
