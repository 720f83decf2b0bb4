"""A controller's number with its two stars: from names and times, or from a table of nights."""

from __future__ import annotations

import math

import numpy as np

from plumbstar import controller
from plumbstar.errors import UserError
from plumbstar.sky.bodies import BRIGHT_PLANETS, Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, magnitude_of, observed_many, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import table
from plumbstar.text.table import Repeat, Row

COLUMNS = ("shown_deg", "star_a", "time_a", "star_b", "time_b")
MORE = ("upright_time", "label")
#: Wrong stars are sought to this magnitude. Common practice, no source.
FAINTEST = 3.6


def pair_of(
    star_a: str,
    time_a: str,
    star_b: str,
    time_b: str,
    site: Site,
    upright_time: str | None = None,
) -> tuple[controller.Pair, tuple[Target, Instant], tuple[Target, Instant]]:
    """Names and times to a pair, and what was found for each. Raises :class:`UserError`."""
    a = find_target(star_a), Instant.parse(time_a)
    b = find_target(star_b), Instant.parse(time_b)
    stop = Instant.parse(upright_time) if upright_time else None
    return pair_seen(a, b, site, stop), a, b


def pair_seen(
    star_a: tuple[Target, Instant],
    star_b: tuple[Target, Instant],
    site: Site,
    stop: Instant | None = None,
) -> controller.Pair:
    """The pair of two stars, each with its moment. ``stop``: when the tube was on it.

    Raises :class:`UserError`.
    """
    (a, at_a), (b, at_b) = star_a, star_b
    upright = None
    if stop is not None:
        upright = at_a.minus(stop)
        if not -600 <= upright <= 12 * 3600:
            raise UserError(
                f"the stop set at {stop}, star A at {at_a}",
                "the stop before the first star, on the same evening",
                "Check the times (UTC)",
            )
    seconds = at_b.minus(at_a)
    if abs(seconds) > 6 * 3600:
        raise UserError(
            f"{seconds / 3600:.1f} hours between the two stars",
            "both stars on one evening, minutes apart at most",
            "Check the dates and times (UTC)",
        )
    bare = np.radians(
        [place_of(a, at_a, site, airless=True), place_of(b, at_a, site, airless=True)]
    )
    return controller.Pair(
        a.label,
        b.label,
        a_deg=place_of(a, at_a, site),
        b_deg=place_of(b, at_b, site),
        b_early_deg=place_of(b, at_a, site),
        seconds=seconds,
        catalogue_deg=math.degrees(controller.angle(bare)),
        upright_seconds=upright,
    )


def wrong_star_candidates(
    a: tuple[Target, Instant], b: tuple[Target, Instant], site: Site
) -> controller.Candidates:
    """Bright stars and planets, where they stood at the two times."""
    stars = catalogue.load()
    things: list[Target] = [stars[int(i)] for i in stars.brighter_than(FAINTEST)]
    things += [Body(name) for name in BRIGHT_PLANETS]
    az, alt = observed_many(things, [a[1], b[1]], site, grid=True)
    where = np.degrees(np.stack([az, alt], axis=-1))

    return controller.Candidates(
        tuple(t.label for t in things),
        np.array([magnitude_of(t, a[1]) for t in things]),
        where[0],
        where[1],
        magnitude_of(*a),
        magnitude_of(*b),
    )


def is_table(text: str) -> bool:
    """Whether text is a table of nights, by its heading."""
    return "shown_deg" in table.heading(text)


def read_nights(
    text: str, site: Site, source: str
) -> tuple[list[controller.ShownNumber], tuple[Repeat, ...]]:
    """Lines of ``shown_deg,star_a,time_a,star_b,time_b[,upright_time][,label]``, each once.

    How the cells may be written: text/table.py. Raises :class:`plumbstar.text.table.TableError`.
    """
    wanted = f"the columns {','.join(COLUMNS)}[,upright_time][,label]"
    found = table.read(
        text, source, lambda n: n if n in (*COLUMNS, *MORE) else "", wanted, only_known=False
    )
    missing = [f"'{c}'" for c in COLUMNS if c not in found.named]
    if missing:
        raise found.error(f"no column {', '.join(missing)}", wanted)
    found.needs_rows("nights")
    return [_night(row, site) for row in found.rows], found.repeats


def _night(row: Row, site: Site) -> controller.ShownNumber:
    value = row.needed("shown_deg", "a number of degrees")
    a, at_a, b, at_b = (row.text(c) for c in COLUMNS[1:])
    try:
        pair, _, _ = pair_of(a, at_a, b, at_b, site, row.text("upright_time") or None)
    except UserError as e:
        raise row.at(e) from None
    return controller.ShownNumber(value, pair, row.text("label") or at_a[:10])
