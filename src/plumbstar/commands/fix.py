"""``plumbstar fix``: solve the mount from sightings."""

from __future__ import annotations

import math

import click
import msgspec

from plumbstar.commands import options as opt
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.naming import solve_entries
from plumbstar.commands.output import print_json, to_json
from plumbstar.mount.terms import SCALES, TERMS
from plumbstar.solve.answer import fix_answer
from plumbstar.solve.doubts import BETTER, ROUGH
from plumbstar.solve.export import export_fix
from plumbstar.solve.fix import Fix
from plumbstar.solve.say import fix_notes, fix_sentence
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.text import files, words


@click.command("fix")
@click.argument("sightings", metavar="SIGHTINGS.csv")
@opt.site_option(required=False, from_logbook=True)
@opt.kit_option
@opt.solving_options
@opt.eyepiece_option
@opt.field_option
@click.option("--export", "export_path", metavar="FILE", help="Write the fix for other programs.")
@logbook_options
@opt.json_option
def command(
    sightings: str,
    site_text: str | None,
    kit_path: str | None,
    terms: str | None,
    flat_priors: bool,
    centring_arcmin: float | None,
    eyepiece: str | None,
    field_deg: float | None,
    export_path: str | None,
    logbook: str | None,
    without: bool,
    as_json: bool,
) -> None:
    """Work out from sightings how the telescope stands, and say how well that is known.

    SIGHTINGS.csv has the columns utc,star,az_reading_deg,alt_reading_deg, or
    true_az_deg,true_alt_deg in place of utc,star. A dash reads standard input. A star of ? is one
    whose name you do not know: two or three of them are named from their readings.

    Kit and site, if not given, are those of the last outing in the logbook, and what past outings
    taught of the mount is used.
    """
    found = taken(kit_path, site_text, logbook, without)
    kit = found.kit
    field, field_name = opt.field_of(kit, eyepiece, field_deg)
    table = opt.sightings_of(sightings, found.site)
    repeats, entries = table.notes(), table.entries()
    taught = found.untaught if flat_priors else found.learnt(opt.instant_of(None), entries)
    priors, noise, from_data = opt.priors_and_noise(
        kit, terms, flat_priors, centring_arcmin, taught.learnt
    )
    solved = solve_entries(entries, found.site, priors, noise, from_data)
    fix = solved.fix
    written = []
    if export_path:
        files.write(export_path, to_json(export_fix(fix)) + "\n", "the export")
        written.append(f"The fix for other programs is in {export_path}.")
    if as_json:
        answer = fix_answer(fix)
        print_json(
            msgspec.structs.replace(
                answer,
                sightings=solved.reports(answer.sightings),
                next_look=solved.next_look,
                sentence=fix_sentence(fix, field, field_name),
                mean_hit_chance=NEXT_PUSH * fix.mean_hit_chance(field),
                field_deg=field,
                notes=(*solved.notes, *fix_notes(fix), *repeats, *written),
                from_logbook=taught.report,
            )
        )
        return
    click.echo(fix_sentence(fix, field, field_name))
    for note in (
        *solved.notes,
        *fix_notes(fix),
        *(f"{a}." for a in fix.advice),
        *repeats,
        *written,
        *taught.lines,
    ):
        click.echo(f"  {note}")
    click.echo("\n".join(["", *terms_table(fix), "", *sightings_table(fix)]))


def terms_table(fix: Fix) -> list[str]:
    """Value, sigma and where the knowledge came from, one line a term."""
    lines = [f"{'term':<24}{'value':>10}{'± 1 sigma':>11}   settled by sightings"]
    for i, name in enumerate(TERMS):
        if fix.prior.sigma[i] == 0:
            continue
        value, sigma = float(fix.mean[i]), float(fix.sigma[i])
        if name in SCALES:
            shown = f"{value * 100:>+9.3f}%{sigma * 100:>10.3f}%"
        else:
            shown = f"{math.degrees(value):>+9.3f}°{math.degrees(sigma):>10.3f}°"
        share = float(fix.from_data[i])
        lines.append(f"{words.term(name):<24}{shown}   {share:.0%}{' (prior)' * (share < 0.2)}")
    return lines


def sightings_table(fix: Fix) -> list[str]:
    """Residual of each sighting and misclosure of each pair."""
    lines = [f"{'sighting':<24}{'across':>10}{'up':>11}   (true minus solved, arcmin)"]
    for i, s in enumerate(fix.sightings):
        across, up = (math.degrees(r) * 60 for r in fix.residuals[i])
        aside = "   set aside" if i in fix.set_aside else ""
        lines.append(f"{s.star:<24}{across:>+10.2f}{up:>+11.2f}{aside}")
    about = "judged from the sightings" if fix.noise_from_data else "as stated"
    shown, stated = fix.landing_noise.centring, fix.noise.centring
    if not BETTER * stated < shown < ROUGH * stated:
        about += f"; by these sightings to about {math.degrees(shown) * 60:.2f}, which is used"
    lines.append(
        f"The sightings miss the fix by {fix.rms_arcsec / 60:.2f} arcmin (root mean square); stars"
        f" are centred to {math.degrees(fix.noise.centring) * 60:.2f} arcmin, {about}."
    )
    if 0 < len(fix.misclosures) <= 15:
        lines += [
            "",
            f"{'pair':<36}{'true angle':>10}{'misclosure':>12}   (measured minus true angle)",
        ]
        for m in fix.misclosures:
            pair = f"{fix.sightings[m.first].star} to {fix.sightings[m.second].star}"
            lines.append(f"{pair:<36}{m.true_deg:>9.2f}°{m.misclosure_deg:>+11.2f}°")
    return lines
