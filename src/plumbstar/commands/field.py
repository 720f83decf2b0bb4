"""``plumbstar field``: what the eyepiece should show."""

from __future__ import annotations

import math
from typing import cast

import click

from plumbstar.commands import completing, whose_eye
from plumbstar.commands import options as opt
from plumbstar.commands.field_answer import field_answer, notes_of
from plumbstar.commands.output import print_json
from plumbstar.eyeview import KINDS, EyeView, ViewKind, eye_view, finder_view, say, svg
from plumbstar.eyeview.drawing import Dress
from plumbstar.sky.naming.lookup import find_target
from plumbstar.targets.asked import Place, chance_now
from plumbstar.targets.model import conditions_of
from plumbstar.targets.verdict import difficulty_of
from plumbstar.text import files, words

#: How many stars the answer lists.
_LISTED = 6


@click.command("field")
@click.argument("target", shell_complete=completing.targets)
@opt.site_option(required=True)
@opt.utc_option
@opt.kit_option
@opt.eyepiece_option
@click.option(
    "--view", type=click.Choice(list(KINDS)), help="How the image stands. Default: the kit's."
)
@click.option(
    "--finder",
    is_flag=True,
    help="The sky around it as the kit's finder shows it; without one as by eye, 8 degrees across.",
)
@click.option("--svg", "svg_path", metavar="FILE", help="Write the drawing there.")
@click.option(
    "--dress",
    type=click.Choice(["night", "day"]),
    default="night",
    show_default=True,
    help="Colours of the drawing.",
)
@click.option(
    "--no-taste", "alike", is_flag=True, help="Leave out what your logbook taught of your eye."
)
@whose_eye.book_option
@opt.json_option
def command(
    target: str,
    site_text: str,
    utc_text: str | None,
    kit_path: str | None,
    eyepiece: str | None,
    view: str | None,
    finder: bool,
    svg_path: str | None,
    dress: str,
    alike: bool,
    book_path: str | None,
    as_json: bool,
) -> None:
    """Say, and draw, what the eyepiece should show when TARGET is in the middle."""
    site = opt.site_of(site_text)
    instant = opt.instant_of(utc_text)
    kit = opt.kit_of(kit_path)
    wanted = find_target(target)
    eye = None
    if finder:
        seen = finder_view(wanted, instant, site, kit=kit)
    else:
        chosen = kit.eyepiece_named(eyepiece) if eyepiece else kit.finder_eyepiece()
        kind = cast("ViewKind | None", view)
        learnt = None if alike else whose_eye.eye_of(book_path, site)
        sky = conditions_of(site, kit, own=learnt)
        place = Place(site, kit, sky, opt.skyline_of(None, site_text))
        chance = chance_now(wanted, instant, chosen, place)
        shows = chance is None or difficulty_of(chance) != "unlikely"
        seen = eye_view(wanted, instant, site, kit, chosen, view=kind, shows=shows)
        eye = learnt if seen.pair is not None else None  # nothing else of it hangs on the eye
    if svg_path:
        files.write(svg_path, svg(seen, cast("Dress", dress)) + "\n", "the drawing")
    if as_json:
        print_json(field_answer(seen, whose_eye.record(eye)))
        return
    for line in (*lines(seen), *whose_eye.lines(eye, "--no-taste")):
        click.echo(line)
    if svg_path:
        click.echo(f"Wrote {svg_path}.")


def lines(view: EyeView) -> list[str]:
    """The answer first, then the numbers."""
    where = words.where(view.az_deg, view.alt_deg)
    size = f"{view.field_deg:.2f}° across"
    how = KINDS[view.view][0].lower()
    glass = f"In the {view.eyepiece}, {size}, {view.magnification:.0f} times, {how}"
    out = [
        say.sentence(view),
        say.ways(view),
        f"{glass if view.eyepiece else f'By eye, {size}'}; {view.label} is {where}.",
    ]
    if view.stars:
        out.append(f"{len(view.stars)} stars to magnitude {view.limit_mag:.1f}; the brightest:")
    for s in view.stars[:_LISTED]:
        apart = math.hypot(s.x, s.y) * view.field_deg * 30.0
        what = ", ".join(x for x in (s.colour, s.name) if x)
        out.append(
            f"  {words.magnitude(s.v_mag):>4}  {apart:5.1f}′ {say.place(s.x, s.y)}"
            f"{f' ({what})' if what else ''}"
        )
    return out + list(notes_of(view))
