"""A controller's number with its two stars: from names and times, or from a table of nights."""

from __future__ import annotations

from plumbstar import controller
from plumbstar.controller.named_pair import pair_of
from plumbstar.errors import UserError
from plumbstar.sky.site import Site
from plumbstar.text import table
from plumbstar.text.table import Repeat, Row

COLUMNS = ("shown_deg", "star_a", "time_a", "star_b", "time_b")
MORE = ("upright_time", "label")


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
