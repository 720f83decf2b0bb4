"""``plumbstar kit``: write the example kit file, or check one."""

from __future__ import annotations

from pathlib import Path

import click

from plumbstar import kit as kits
from plumbstar.commands import options as opt
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.sky import EyepieceReport, KitReport, WrittenReport
from plumbstar.errors import UserError
from plumbstar.text import files


@click.command("kit")
@click.argument("path", required=False, metavar="KIT.toml")
@click.option(
    "--new", is_flag=True, help="Write KIT.toml: six lines to fill in, the rest as remarks."
)
@click.option("--example", is_flag=True, help="With --new: the demo's telescope, every key used.")
@opt.json_option
def command(path: str | None, new: bool, example: bool, as_json: bool) -> None:
    """Check a kit file and say what it means; --new writes one with six lines to fill in."""
    if new:
        if not path:
            raise UserError("--new without a file name", "KIT.toml", "plumbstar kit --new my.toml")
        text = kits.example_text() if example else kits.template_text()
        files.write(path, text, "the kit file", replace=False)
        if as_json:
            print_json(WrittenReport(written=path))
            return
        what = "the numbers of your own telescope" if example else "your numbers, six lines of them"
        click.echo(f"Wrote {path}. Put in {what}, then check it with: plumbstar kit {path}")
        return
    kit = kits.load(Path(path)) if path else kits.example()
    t = kit.telescope
    eyepieces = tuple(
        EyepieceReport(
            name=e.name,
            true_field_deg=kit.true_field_deg(e),
            magnification=kit.magnification(e),
            exit_pupil_mm=e.focal_length_mm / t.focal_ratio,
        )
        for e in kit.eyepiece
    )
    if as_json:
        print_json(
            KitReport(
                name=kit.name,
                focal_ratio=t.focal_ratio,
                eyepieces=eyepieces,
                azimuth_step_deg=kit.azimuth.resolution_deg,
                altitude_step_deg=kit.altitude.resolution_deg,
            )
        )
        return
    click.echo(
        f"{kit.name}: {t.aperture_mm:g} mm f/{t.focal_ratio:.1f}. "
        f"One step of the azimuth reading is {kit.azimuth.resolution_deg:.3f}°, "
        f"of the altitude reading {kit.altitude.resolution_deg:.3f}°."
    )
    for row in eyepieces:
        click.echo(
            f"  {row.name}: true field {row.true_field_deg:.2f}°, "
            f"{row.magnification:.0f} times, exit pupil {row.exit_pupil_mm:.1f} mm"
        )
