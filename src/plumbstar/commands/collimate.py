"""``plumbstar collimate``: judge a phone picture of a defocused star."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click
import msgspec
import numpy as np

from plumbstar import collimate as judging
from plumbstar import kit as kits
from plumbstar.commands import options as opt
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.mending import CircleReport, CollimationReport
from plumbstar.contract.record import filled
from plumbstar.errors import UserError


@click.command(name="collimate")
@click.argument("photo", type=click.Path(path_type=Path))
@click.option("--focal-ratio", type=float, help="Focal length over aperture, for example 5.2.")
@click.option(
    "--kit", "kit_path", type=click.Path(path_type=Path), help="Take the focal ratio from a kit."
)
@click.option(
    "--defocus-mm", type=float, help="How far the focuser stood from sharp focus, millimetres."
)
@click.option(
    "--other-side",
    type=click.Path(path_type=Path),
    help="A second picture, racked IN as far as PHOTO is racked OUT: tells coma from the rest.",
)
@click.option(
    "--turn-view",
    type=click.Choice(["none", "mirrored"]),
    default="none",
    show_default=True,
    help="'mirrored' if the picture is left-right reversed against what the eye sees.",
)
@click.option(
    "--up-clock",
    type=float,
    default=12.0,
    show_default=True,
    help="Clock position in the picture of what is up for the eye at the eyepiece.",
)
@click.option(
    "--overlay",
    "overlay_path",
    type=click.Path(path_type=Path),
    help="Write the picture with the circles and the verdict drawn in.",
)
@click.option(
    "--no-eyepiece",
    is_flag=True,
    help="The camera stood in the focuser itself: it cannot look in at a slant.",
)
@click.option(
    "--star",
    type=click.Choice([place.value for place in judging.StarPlace]),
    default=judging.StarPlace.UNTOLD.value,
    show_default=True,
    help="Where in the eyepiece the star stood: only whoever looked can tell.",
)
@opt.json_option
def command(
    photo: Path,
    focal_ratio: float | None,
    kit_path: Path | None,
    defocus_mm: float | None,
    other_side: Path | None,
    turn_view: str,
    up_clock: float,
    overlay_path: Path | None,
    no_eyepiece: bool,
    star: str,
    as_json: bool,
) -> None:
    """Say from PHOTO, a picture of a star well out of focus, whether the mirrors are in line.

    Rack the focuser OUT until the star is a wide disc with a dark shadow, put it in the middle of
    the field, hold the phone to the eyepiece.
    """
    if kit_path is not None:
        if focal_ratio is not None:
            raise UserError("--focal-ratio and --kit were both given", "", "Leave one out")
        focal_ratio = kits.load(kit_path).telescope.focal_ratio
    read = judging.read_photo(photo)

    def judge(photo: judging.Photo) -> judging.Collimation:
        return judging.judge(
            photo.pixels,
            focal_ratio,
            defocus_mm=defocus_mm,
            up_clock=up_clock,
            mirrored=turn_view == "mirrored",
            camera=replace(photo.camera, straight=no_eyepiece, star=judging.StarPlace(star)),
        )

    result = first = judge(read)
    if other_side is not None:
        result = judging.combine(first, judge(judging.read_photo(other_side)))
    if overlay_path is not None:
        picture = judging.overlay(read.pixels, result)
        try:
            picture.save(overlay_path)
        except (OSError, ValueError) as e:
            raise UserError(
                f"--overlay {overlay_path} ({e})",
                "a place that can be written, ending in .png or .jpg",
                "Choose another name",
            ) from None
    if as_json:
        told = tuple(f"{a}." for a in judging.advice(result))
        print_json(_answer(result, told))
    else:
        click.echo(_sentences(result))


def _answer(c: judging.Collimation, advice: tuple[str, ...]) -> CollimationReport:
    """The record that programs are given."""
    circles = {
        name: msgspec.convert(circle, CircleReport, from_attributes=True) if circle else None
        for name, circle in (("outer", c.outer), ("inner", c.inner))
    }
    return filled(
        CollimationReport,
        c,
        clock_hours=c.clock,
        seen_clock_hours=c.seen_clock,
        up_clock_hours=c.up_clock,
        advice=advice,
        **circles,
    )


def _sentences(c: judging.Collimation) -> str:
    """The answer, then what to do, then the numbers, then what they do not say."""
    lines = [c.verdict]
    if not c.can_judge:
        return lines[0]
    lines += ["", c.turn, ""]
    assert c.outer is not None
    assert c.inner is not None
    lines.append(
        f"Disc {2 * c.outer.radius_px:.0f} pixels across, shadow {100 * c.obstruction:.0f} % of "
        f"it; direction {c.direction_deg:.0f} ± {max(c.direction_sigma_deg, 1):.0f}° "
        "clockwise from up in the picture."
    )
    if c.sides == 2 and c.fixed_right is not None and c.fixed_down is not None:
        fixed = 100 * float(np.hypot(c.fixed_right, c.fixed_down))
        lines.append(
            f"Not coma: {fixed:.1f} % of the disc's radius, a secondary off-centre (on purpose or "
            "not) and the tube pointing beside the mirror's axis."
        )
    told = [*c.caveats, *(f"{a}." for a in judging.advice(c))]
    lines += [""] + [f"- {text}" for text in told]
    return "\n".join(lines)
