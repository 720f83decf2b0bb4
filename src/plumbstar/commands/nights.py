"""A controller's number with its two stars: from names and times, or from a table of nights."""

from __future__ import annotations

from plumbstar import controller
from plumbstar.controller.named_pair import pair_of
from plumbstar.errors import UserError
from plumbstar.sky import local_time
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import table
from plumbstar.text.table import Repeat, Row

COLUMNS = ("shown_deg", "star_a", "time_a", "star_b", "time_b")
#: In place of a time in UTC, what the clock at the site showed.
BY_THE_CLOCK = {"time_a": "local_a", "time_b": "local_b", "upright_time": "local_upright"}
MORE = ("upright_time", *BY_THE_CLOCK.values(), "label")


def is_table(text: str) -> bool:
    """Whether text is a table of nights, by its heading."""
    return "shown_deg" in table.heading(text)


def read_nights(
    text: str, site: Site, source: str, zone: str | None = None
) -> tuple[list[controller.ShownNumber], tuple[Repeat, ...]]:
    """Lines of ``shown_deg,star_a,time_a,star_b,time_b[,upright_time][,label]``, each once;
    ``local_a``, ``local_b`` and ``local_upright`` in place of times in UTC are by the clock of
    ``zone`` (None: the site's).

    How the cells may be written: text/table.py. Raises :class:`plumbstar.text.table.TableError`.
    """
    wanted = f"the columns {','.join(COLUMNS)}[,upright_time][,label]"
    found = table.read(
        text, source, lambda n: n if n in (*COLUMNS, *MORE) else "", wanted, only_known=False
    )
    missing = [f"'{c}'" for c in COLUMNS if not {c, BY_THE_CLOCK.get(c, c)} & set(found.named)]
    if missing:
        raise found.error(f"no column {', '.join(missing)}", wanted)
    found.needs_rows("nights")
    clock = local_time.zone_or_offset(zone) if zone is not None else site.time_zone
    if not clock and zone is None and set(BY_THE_CLOCK.values()) & set(found.named):
        raise UserError(
            f"{source} has local times, and no zone is known for the site",
            "",
            "Add --zone, as --zone Europe/Rome or --zone +1, or write UTC into time_a and time_b",
        )
    return [_night(row, site, clock) for row in found.rows], found.repeats


def _night(row: Row, site: Site, clock: str) -> controller.ShownNumber:
    value = row.needed("shown_deg", "a number of degrees")
    try:
        at_a, at_b, upright = (_moment(row, c, clock) for c in BY_THE_CLOCK)
        pair, (_, first), _ = pair_of(
            *(row.text("star_a"), at_a, row.text("star_b"), at_b, site, upright or None)
        )
    except UserError as e:
        raise row.at(e) from None
    return controller.ShownNumber(value, pair, row.text("label") or night_of(first, clock))


def _moment(row: Row, column: str, clock: str) -> str:
    """The time in UTC as text, from whichever of the two columns tells it; empty for neither."""
    shown = row.text(BY_THE_CLOCK[column])
    if row.text(column) or not shown:
        return row.text(column)
    return local_time.at_clock_of(shown, clock).iso(3)


def night_of(at: Instant, clock: str) -> str:
    """What a night is called: the day by the clock there, as 2027-01-28."""
    return local_time.iso_date(at, clock)
