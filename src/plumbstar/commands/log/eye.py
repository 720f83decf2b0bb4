"""``plumbstar log eye``: what the looks teach of the observer's own eye and sky."""

from __future__ import annotations

import click

from plumbstar.commands import siting
from plumbstar.commands.log.book import book_at, command, options
from plumbstar.commands.output import say
from plumbstar.diagnose.own_eye import eye_answer, own_eye, sentence
from plumbstar.errors import UserError
from plumbstar.targets.learnt_eye import LEAST_LOOKS
from plumbstar.text.words import sigma_words


@command.command("eye")
@click.option("--site", metavar="PLACE", help="Whose sky; else that of the last outing.")
@options
def eye(site: str | None, path: str | None, as_json: bool) -> None:
    """How faint you see, learnt from what you saw and did not; `tonight` judges by it."""
    with book_at(path) as book:
        outings = [o.site for o in book.outings() if o.site is not None]
        where = siting.find(site, path)[0] if site else outings[-1] if outings else None
        if where is None:
            raise UserError("no site", "where the looks were", "Add --site PLACE")
        found = own_eye(book, where)
    if not found.learnt:
        say(
            as_json,
            eye_answer(found),
            f"{found.looks} looks so far: from {LEAST_LOOKS} on they tell of your eye. Tap how an "
            "object was seen after each find, also when it was not.",
        )
        return
    say(
        as_json,
        eye_answer(found),
        sentence(found),
        f"Of {found.looks} looks on {found.evenings} evenings {found.not_seen} were of what did "
        "not show.",
        f"Eye {found.eye_mag:+.2f} ± {sigma_words(found.eye_sigma_mag)} mag needed more than "
        "assumed; sky "
        f"{found.sky_mag:+.2f} ± {sigma_words(found.sky_sigma_mag)} mag darker than stated; "
        "both together, "
        f"for a usual object, {found.shift_mag:+.2f} ± {sigma_words(found.shift_sigma_mag)}.",
        f"A verdict is spread by {found.spread_mag:.2f} mag.",
    )
