"""``plumbstar demo``: an invented evening from the first star to the sixth object."""

from __future__ import annotations

import random
from pathlib import Path

import click

from plumbstar.commands import options as opt
from plumbstar.commands.choose import star_line
from plumbstar.commands.demo_serve import Served, own_evening, serve_beside, serve_live
from plumbstar.commands.fix import terms_table
from plumbstar.commands.output import print_json
from plumbstar.errors import UserError
from plumbstar.guide import say as push_say
from plumbstar.mount.terms import SCALES
from plumbstar.simulate.demo import DemoEvening, play
from plumbstar.simulate.reveal import stop_sentence
from plumbstar.simulate.scenario import saltpan_flat, thornback_ridge
from plumbstar.solve.say import fix_notes, fix_sentence
from plumbstar.text import words
from plumbstar.turns import one_turn_deg
from plumbstar.web.door.addresses import PORT


@click.command("demo")
@click.option(
    "--seed",
    type=click.IntRange(0),
    default=7,
    show_default=True,
    help="Which errors the hand makes: any whole number.",
)
@click.option(
    "--stars",
    type=click.Choice(["2", "3"]),
    default="2",
    show_default=True,
    help="How many stars to sight.",
)
@click.option("--south", is_flag=True, help="The southern evening: Saltpan Flat in July.")
@click.option("--serve", is_flag=True, help="Open the live pages with a simulated telescope.")
@click.option(
    "--host",
    default="0.0.0.0",
    show_default=True,
    help="With --serve: the address to listen on; 127.0.0.1: for this computer only.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=PORT,
    show_default=True,
    help="With --serve: the port.",
)
@click.option(
    "--controller",
    "closed",
    is_flag=True,
    help="With --serve: a closed controller that shows a number, in place of the encoders.",
)
@click.option(
    "--controller-port",
    type=click.IntRange(0, 65535),
    default=0,
    help="With --controller: the port of the controller's own page; 0: any free one.",
)
@click.option(
    "--kit", "kit_path", type=click.Path(path_type=Path), help="With --serve: your own telescope."
)
@click.option("--site", "site_text", metavar="PLACE", help="With --kit: your own site.")
@click.option("--skyline", "skyline_text", default="", hidden=True)
@click.option("--zone", "zone_text", default="", hidden=True)
@click.option("--zenith-mag", type=float, hidden=True)
@click.option("--back-port", type=click.IntRange(0, 65535), hidden=True)
@click.option("--name", "names", multiple=True, hidden=True)
@click.option("--https", "secure", is_flag=True, hidden=True)
@opt.json_option
def command(
    seed: int,
    stars: str,
    south: bool,
    serve: bool,
    host: str,
    port: int,
    closed: bool,
    controller_port: int,
    kit_path: Path | None,
    site_text: str | None,
    skyline_text: str,
    zone_text: str,
    zenith_mag: float | None,
    back_port: int | None,
    names: tuple[str, ...],
    secure: bool,
    as_json: bool,
) -> None:
    """Play an invented evening: choose stars, sight them, push to six objects.

    At the end the faults that were hidden are shown beside what was worked out.
    """
    scenario = saltpan_flat() if south else thornback_ridge()
    own = kit_path is not None
    if (own or site_text is not None) and not (serve and own and site_text is not None):
        raise UserError("--kit, --site and --serve go together", "", "Give all three, or none")
    if kit_path is not None and site_text is not None:
        scenario = own_evening(kit_path, site_text, skyline_text, zone_text, zenith_mag)
    if closed and not serve:
        raise UserError("--controller was given without --serve", "", "Add --serve")
    if serve:
        how = Served(host, port, names, secure, as_json, kit_path, back_port)
        if closed:
            seed = random.SystemRandom().getrandbits(32) if own else seed
            serve_beside(scenario, seed, how, controller_port)
        else:
            serve_live(scenario, how)
        return
    evening = play(scenario, seed, int(stars))
    if as_json:
        print_json(evening.answer())
    else:
        click.echo("\n".join(story(evening)))


def story(e: DemoEvening) -> list[str]:
    """The evening as a person would tell it, the truth last."""
    s = e.scenario
    best, practice = e.choice.best, e.choice.common_practice
    names = words.in_order([c.star.label for c in best.stars])
    lines = [
        f"{s.site.name} (invented), {s.start.iso()[:10]}, {s.start.iso()[11:16]} UTC. "
        f"{s.kit.name}: {s.kit.telescope.aperture_mm:g} mm, pushed by hand.",
        "",
        f"Before going outside: sight first {names}.",
        *[star_line(c) for c in best.stars],
        f"{words.upper_first(words.chance(best.mean_hit_chance))} targets should then be in the "
        f"{e.field_name} field ({e.field_deg:.2f}°).",
    ]
    if practice is not None:
        brightest = ", ".join(c.star.label for c in practice.stars)
        lines.append(
            f"The usual choice, the brightest ({brightest}), with the stop trusted: "
            f"{words.chance(practice.trusting_stop)}."
        )
    lines += ["", "At the telescope:"]
    for x in e.fix.sightings:
        clock = x.utc.iso()[11:19] if x.utc else ""
        lines.append(
            f"  {clock} UTC  {x.star:<14} reads {one_turn_deg(x.az_reading_deg):7.2f}, "
            f"{x.alt_reading_deg:6.2f}"
        )
    lines += ["", fix_sentence(e.fix, e.field_deg, e.field_name)]
    lines += [f"  {n}" for n in (*fix_notes(e.fix), *(f"{a}." for a in e.fix.advice))]
    lines += ["", *[f"  {row}" for row in terms_table(e.fix)], ""]
    lines.append(f"Six pushes with the {e.field_name} eyepiece:")
    for v in e.visits:
        verdict = "in the field" if v.hit else "NOT in the field"
        other = "in" if v.hit_trusting else "out"
        lines.append(
            f"  {push_say.sentence(v.push)}  Chance {words.chance(v.push.hit_chance)}. "
            f"Landed {v.off_deg:.2f}° off: {verdict}. "
            f"(Stop trusted: {v.off_trusting_deg:.2f}° off, {other}.)"
        )
        lines += [f"      {w}" for w in push_say.warnings(v.push)]
    hits, classic = sum(v.hit for v in e.visits), sum(v.hit_trusting for v in e.visits)
    lines += [
        "",
        f"In the field: {hits} of {len(e.visits)}. Trusting the stop, same evening, same hand, "
        f"first two stars: {classic} of {len(e.visits)}.",
        "",
        "The faults that were hidden, beside what was solved:",
        f"  {'term':<24}{'hidden':>9}{'solved':>10}{'± 1 sigma':>11}",
    ]
    for name, value, sigma, truth in e.rows():
        unit = "%" if name in SCALES else "°"
        lines.append(
            f"  {words.term(name):<24}{truth:>+8.2f}{unit}{value:>+9.2f}{unit}"
            f"{words.sigma_words(sigma):>10}{unit}"
        )
    lines += [
        "",
        stop_sentence(e.fix, e.scenario.hidden),
        "",
        "By night only: never point a telescope at or near the Sun.",
    ]
    return lines
