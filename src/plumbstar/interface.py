"""What other programs may call: an evening in nine functions. docs/api.md has examples.

Places and times are found here; the arithmetic is below, in ``solve``, ``guide`` and ``choose``.
Degrees go in and come out, with the unit in the name; times are :class:`Instant`, UTC.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from plumbstar.choose import say as choice_say
from plumbstar.choose.candidates import candidates
from plumbstar.choose.ranking import Choice, NextStar, choose, next_star
from plumbstar.guide import say as push_say
from plumbstar.guide.push import Push, push
from plumbstar.kit import Kit, load
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.star_places import placing
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.solve.export import export_fix
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.say import fix_sentence
from plumbstar.solve.since import NEXT_PUSH

__all__ = [
    "best_next_star",
    "choose_stars",
    "export_fix",
    "hit_chance",
    "in_words",
    "load_kit",
    "push_to",
    "sight",
    "solve_fix",
]


def load_kit(path: str | Path) -> Kit:
    """A kit from its TOML file (docs/kit.md). Raises :class:`UserError` naming file and key."""
    return load(Path(path))


def sight(
    star: str, utc: Instant, az_reading_deg: float, alt_reading_deg: float, site: Site
) -> Sighting:
    """One star centred, by name, with its true place worked out (refraction included).

    Readings are the circles' raw degrees. Raises :class:`UserError` for a name that no list has,
    and for a star that was not up.
    """
    place = placing(site)
    assert place is not None  # a site was given
    label, az_deg, alt_deg = place(star, utc)
    return Sighting(label, az_deg, alt_deg, az_reading_deg, alt_reading_deg, utc)


def solve_fix(
    sightings: Sequence[Sighting], kit: Kit | None = None, *, terms: Sequence[str] | None = None
) -> Fix:
    """Every term of the mount with its covariance, from one sighting or more.

    The kit gives priors and centring; without one, those of a plain telescope. ``terms``: solve
    these only, and hold the others at the kit's values. Raises :class:`UserError` for no sightings
    or an unknown term.
    """
    kit = kit or Kit()
    priors = Priors.from_kit(kit)
    return solve(sightings, priors if terms is None else priors.named(terms), Noise.from_kit(kit))


def hit_chance(fix: Fix, target: str, utc: Instant, site: Site, field_deg: float) -> float:
    """The chance, 0 to 1, that a push to a target puts it in a true field of that diameter: the
    first push since the last sighting, a slip on the way reckoned with."""
    nothing_moved = fix.hit_chance(*place_of(find_target(target), utc, site), field_deg)
    return NEXT_PUSH * float(nothing_moved)


def push_to(
    fix: Fix,
    target: str,
    utc: Instant,
    site: Site,
    az_reading_deg: float,
    alt_reading_deg: float,
    kit: Kit | None = None,
    *,
    solar_filter: bool = False,
) -> Push:
    """How far to push from the present reading, the shorter way round, and the chance to hit.

    For the kit's widest eyepiece, at the moment the push will end. Raises
    :class:`plumbstar.guide.sun.SunRefusal`, a :class:`UserError`, near the Sun and by day unless
    ``solar_filter`` says that a full-aperture filter is on; :class:`UserError` for a target that
    is not up.
    """
    kit = kit or Kit()
    found = find_target(target)
    return push(
        fix,
        found.label,
        lambda s: place_of(found, utc.plus_seconds(s), site),
        az_reading_deg,
        alt_reading_deg,
        kit.true_field_deg(kit.finder_eyepiece()),
        sun=lambda s: place_of(Body("Sun"), utc.plus_seconds(s), site),
        filter_confirmed=solar_filter,
        seconds=kit.push_seconds,
        min_alt_deg=kit.telescope.min_alt_deg,
        max_alt_deg=kit.telescope.max_alt_deg,
    )


def choose_stars(
    utc: Instant,
    site: Site,
    kit: Kit | None = None,
    *,
    size: int = 2,
    skyline: Skyline | None = None,
) -> Choice:
    """Every pair (or triple) of stars that is up, ranked by what it would buy, best first.

    For the kit's widest eyepiece and the whole sky above 20 degrees. Raises
    :class:`plumbstar.guide.sun.SunRefusal` by day, :class:`UserError` for too few stars.
    """
    kit = kit or Kit()
    stars = candidates(catalogue.load(), utc, site, skyline=skyline, telescope=kit.telescope)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    prior, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    return choose(stars, utc, prior, noise, field_deg, size=size, skyline=skyline)


def best_next_star(
    fix: Fix, utc: Instant, site: Site, kit: Kit | None = None, *, skyline: Skyline | None = None
) -> NextStar:
    """The star whose sighting would raise the mean hit chance most, and what it buys.

    Raises as :func:`choose_stars` does.
    """
    kit = kit or Kit()
    stars = candidates(catalogue.load(), utc, site, skyline=skyline, telescope=kit.telescope)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    return next_star(fix, stars, field_deg, skyline=skyline)


def in_words(answer: Fix | Push | NextStar, kit: Kit | None = None) -> str:
    """An answer as the sentence that the program itself says of it.

    Of a fix it tells the chance in the kit's widest eyepiece; the others hold all that is said.
    """
    if isinstance(answer, Push):
        return push_say.sentence(answer)
    if isinstance(answer, NextStar):
        return choice_say.next_sentence(answer)
    kit = kit or Kit()
    eyepiece = kit.finder_eyepiece()
    return fix_sentence(answer, kit.true_field_deg(eyepiece), eyepiece.name)
