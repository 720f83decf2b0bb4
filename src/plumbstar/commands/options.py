"""Options that several commands share, and how they become objects."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, overload

import click

from plumbstar import kit as kits
from plumbstar.commands import completing, siting
from plumbstar.commands.decimals import NUMBER
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sightings_file import WANTED, SightingsTable, parse
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.text.table import heading
from plumbstar.text.words import term_key

if TYPE_CHECKING:
    from plumbstar.diagnose.learn import Learnt
    from plumbstar.logbook import Logbook

F = TypeVar("F", bound=Callable[..., Any])


def site_option(required: bool, from_logbook: bool = False) -> Callable[[F], F]:
    """``--site PLACE``: coordinates, or a kept site's name; else the last, ``from_logbook``."""
    return click.option(
        "--site",
        "site_text",
        required=required,
        shell_complete=completing.sites,
        metavar="PLACE",
        help="Where the telescope stands: LAT,LON[,ELEV_M] or other coordinates, or a kept site."
        + " Default: the site of the last outing in the logbook." * from_logbook,
    )


utc_option = click.option(
    "--utc", "utc_text", metavar="T", help="The moment, ISO 8601 UTC. Default: now."
)
kit_option = click.option(
    "--kit", "kit_path", metavar="KIT.toml", help="Your kit file (see `plumbstar kit`)."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Report as one JSON object.")
skyline_option = click.option(
    "--skyline",
    "skyline_text",
    metavar="AZ:ALT,...",
    help="Trees and roofs as azimuth:altitude pairs, or a file of them.",
)
eyepiece_option = click.option(
    "--eyepiece", metavar="NAME", help="Eyepiece in use. Default: the widest of the kit."
)
field_option = click.option(
    "--field-deg", type=NUMBER, metavar="X", help="True field in degrees, instead of an eyepiece."
)


def solving_options(f: F) -> F:
    """The options by which a fix may be steered."""
    for option in (
        click.option(
            "--centring-arcmin",
            type=NUMBER,
            metavar="X",
            help="How far from the middle your stars usually are (1 sigma), arcminutes. "
            "Default: the kit's.",
        ),
        click.option(
            "--flat-priors",
            is_flag=True,
            help="Use nothing the kit expects of the mount: the sightings alone decide.",
        ),
        click.option(
            "--terms",
            metavar="a,b,c",
            help="Solve only these terms of the mount; the others stay at the kit's values. "
            "azimuth_zero, altitude_zero, lean_north, lean_west, squareness, cone, droop, "
            "azimuth_scale, altitude_scale, azimuth_runout_sin, azimuth_runout_cos, refraction.",
        ),
    ):
        f = option(f)
    return f


def sightings_of(path: str, site: Site | None) -> SightingsTable:
    """The sightings of a table, or of standard input for ``-``; every command reads them here.

    Raises :class:`UserError` naming file, line and column.
    """
    from plumbstar.mount.star_places import placing

    text = files.read_text(path, wanted=f"a table of sightings: {WANTED}")
    return parse(text, placing(site), files.named(path), zone_for(text, site))


def zone_for(text: str, site: Site | None) -> str | None:
    """By whose clock a table's times are, where it has a column of clock times."""
    return siting.clock_zone(site) if "local_time" in heading(text) else None


@overload
def site_of(text: str) -> Site: ...
@overload
def site_of(text: str | None) -> Site | None: ...
def site_of(text: str | None) -> Site | None:
    """The site that ``--site`` names; None where the option may be left out and was."""
    return siting.find(text)[0] if text else None


def instant_of(text: str | None) -> Instant:
    """The moment asked for, or now. The clock is read here and nowhere below."""
    return Instant.parse(text) if text else Instant.from_unix(time.time())


def kit_of(path: str | None) -> Kit:
    """The kit file, or a plain kit of defaults (a 200 mm f/6 with a 25 mm eyepiece)."""
    return kits.load(Path(path)) if path else Kit()


def kit_in_use(book: Logbook, name: str | None) -> Kit:
    """The kit named: a file, or the last snapshot of that name; without a name, of the last outing.

    Raises :class:`UserError`.
    """
    if name and Path(name).is_file():
        return kits.load(Path(name))
    outings = [o for o in book.outings() if o.kit_text]
    mine = [o for o in outings if name in (None, "", o.kit_name)]
    if not mine:
        known = ", ".join(sorted({o.kit_name for o in outings})) or "none yet"
        raise UserError(
            f"the kit '{name}'" if name else "No outing in the logbook has a kit",
            f"a kit file, or a kit in the logbook ({known})" if name else "",
            "Give --kit FILE, or log an outing with it first",
        )
    return kits.loads(mine[-1].kit_text, f"the kit of outing {mine[-1].id}")


def skyline_of(text: str | None, site_text: str | None = None) -> Skyline:
    """The skyline given; without one, that kept with the site that ``site_text`` names."""
    if not text:
        return Skyline(siting.find(site_text)[1]) if site_text else Skyline()
    return _skyline_given(text)


def skyline_told(text: str | None) -> Skyline | None:
    """The skyline given, if one was."""
    return _skyline_given(text) if text else None


def _skyline_given(text: str) -> Skyline:
    path = Path(text)
    if ":" not in text or path.is_file():
        wanted = "azimuth:altitude pairs as 300:25,330:22, or a file of them"
        return Skyline.parse(files.read_text(path, "the skyline", wanted))
    return Skyline.parse(text)


def field_of(kit: Kit, eyepiece: str | None, field_deg: float | None) -> tuple[float, str]:
    """True field in degrees and what to call it."""
    if field_deg is not None:
        if not (math.isfinite(field_deg) and 0.005 <= field_deg <= 20):
            raise UserError(f"a field of {field_deg:g} degrees", "0.005 to 20", "Check the unit")
        return field_deg, f"{field_deg:g}°"
    e = kit.eyepiece_named(eyepiece) if eyepiece else kit.finder_eyepiece()
    return kit.true_field_deg(e), e.name


def priors_and_noise(
    kit: Kit,
    terms: str | None,
    flat_priors: bool,
    centring_arcmin: float | None,
    learnt: Learnt | None = None,
) -> tuple[Priors, Noise, bool]:
    """Priors, noise, and whether the noise is to be judged from the data.

    ``learnt``: by past outings; the kit's own without it.
    """
    priors = Priors.from_kit(kit) if learnt is None else learnt.priors
    if terms:
        names = _names(terms)
        if not names:
            raise UserError("no terms in --terms", "names separated by commas", "Leave it out")
        priors = priors.named(names)
    if flat_priors:
        priors = priors.flat()
    noise = Noise.from_kit(kit) if learnt is None else learnt.noise(kit)
    if centring_arcmin is not None:
        if not (math.isfinite(centring_arcmin) and 0.001 <= centring_arcmin <= 300):
            raise UserError(
                f"a centring of {centring_arcmin:g} arcmin", "0.001 to 300", "Check the unit"
            )
        noise = replace(noise, centring=math.radians(centring_arcmin / 60))
    from_data = flat_priors and centring_arcmin is None
    if from_data:
        # The scatter is judged from the sightings, and holds the circles' grain already.
        noise = Noise(noise.centring)
    return priors, noise, from_data


def _names(text: str) -> list[str]:
    """Names of terms from ``a,b,c``."""
    return [term_key(t) for t in text.split(",") if t.strip()]
