"""``plumbstar demo``: an invented evening from the first star to the sixth object."""

from __future__ import annotations

import click

from plumbstar import words
from plumbstar.commands import options as opt
from plumbstar.commands.choose import star_line
from plumbstar.commands.fix import terms_table
from plumbstar.demo import Evening, play, stop_error_deg
from plumbstar.scenario import saltpan_flat, thornback_ridge


@click.command("demo")
@click.option("--seed", type=int, default=7, show_default=True, help="Another unsteady hand.")
@click.option("--stars", type=click.Choice(["2", "3"]), default="2", show_default=True)
@click.option("--south", is_flag=True, help="Saltpan Flat in July instead of Thornback Ridge.")
@click.option("--serve", is_flag=True, help="Open the live pages with a simulated telescope.")
@opt.json_option
def command(seed: int, stars: str, south: bool, serve: bool, as_json: bool) -> None:
    """Play an invented evening: choose, sight, fix, push to six objects, reveal the truth."""
    scenario = saltpan_flat() if south else thornback_ridge()
    if serve:
        from plumbstar.commands.serve import serve_demo

        serve_demo(scenario, seed)
        return
    evening = play(scenario, seed, int(stars))
    if as_json:
        opt.print_json(evening.to_dict())
    else:
        click.echo("\n".join(story(evening)))


def story(e: Evening) -> list[str]:
    """The evening as a person would tell it, the truth last."""
    s = e.scenario
    best, practice = e.choice.best, e.choice.common_practice
    names = " and ".join(
        [", ".join(c.star.label for c in best.stars[:-1]), best.stars[-1].star.label]
    )
    lines = [
        f"{s.site.name} (invented), {s.start.iso()[:10]}, {s.start.iso()[11:16]} UTC. "
        f"{s.kit.name}: {s.kit.telescope.aperture_mm:g} mm, pushed by hand.",
        "",
        f"Before going outside: sight {names}.",
        *[star_line(c) for c in best.stars],
        f"{words.targets_sharing(best.mean_hit_chance)} should then be in the {e.field_name} field "
        f"({e.field_deg:.2f}°).",
    ]
    if practice is not None:
        brightest = ", ".join(c.star.label for c in practice.stars)
        lines.append(
            f"The usual choice, the brightest ({brightest}), with the stop trusted: "
            f"{words.percent(practice.trusting_stop)}."
        )
    lines += ["", "At the telescope:"]
    for x in e.fix.sightings:
        clock = x.utc.iso()[11:19] if x.utc else ""
        lines.append(
            f"  {clock} UTC  {x.star:<14} reads {x.reading_az_deg % 360:7.2f}, "
            f"{x.reading_alt_deg:6.2f}"
        )
    lines += ["", words.fix_sentence(e.fix, e.field_deg, e.field_name)]
    lines += [f"  {n}" for n in e.fix.notes]
    lines += ["", *[f"  {row}" for row in terms_table(e.fix)], ""]
    lines.append(f"Six pushes with the {e.field_name} eyepiece:")
    for v in e.visits:
        verdict = "in the field" if v.hit else "NOT in the field"
        other = "in" if v.hit_trusting else "out"
        lines.append(
            f"  {v.push.sentence}  Chance {words.percent(v.push.hit_chance)}. "
            f"Landed {v.off_deg:.2f}° off: {verdict}. "
            f"(Stop trusted: {v.off_trusting_deg:.2f}° off, {other}.)"
        )
        lines += [f"      {w}" for w in v.push.warnings]
    hits, classic = sum(v.hit for v in e.visits), sum(v.hit_trusting for v in e.visits)
    lines += [
        "",
        f"In the field: {hits} of {len(e.visits)}. Trusting the stop, same evening, same hand: "
        f"{classic} of {len(e.visits)}.",
        "",
        "The truth that was hidden, beside the estimate:",
        f"  {'term':<24}{'hidden':>9}{'solved':>10}{'± 1 sigma':>11}",
    ]
    for name, value, sigma, truth in e.rows():
        unit = "%" if name.endswith("scale") else "°"
        lines.append(
            f"  {words.TERM_WORDS[name][0]:<24}{truth:>+8.2f}{unit}{value:>+9.2f}{unit}"
            f"{sigma:>10.2f}{unit}"
        )
    hidden, solved = stop_error_deg(e)
    lines += [
        "",
        f"The stop was {hidden:+.2f}° off and was solved as {solved:+.2f}°, from "
        f"{len(e.fix.sightings)} stars.",
        "",
        "By night only: never point a telescope at or near the Sun.",
    ]
    return lines
