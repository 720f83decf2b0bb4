"""``plumbstar demo``: an invented evening from the first star to the sixth object."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import click

from plumbstar import kit as kits
from plumbstar.commands import options as opt
from plumbstar.commands.choose import star_line
from plumbstar.commands.fix import terms_table
from plumbstar.commands.output import print_json, to_json
from plumbstar.errors import UserError
from plumbstar.guide import say as push_say
from plumbstar.mount.terms import SCALES
from plumbstar.simulate.demo import DemoEvening, play, stop_error_deg
from plumbstar.simulate.hidden import to_mapping
from plumbstar.simulate.scenario import Scenario, saltpan_flat, thornback_ridge
from plumbstar.solve.say import fix_notes, fix_sentence
from plumbstar.text import files, words
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
    "--host", default="127.0.0.1", show_default=True, help="With --serve: the address to listen on."
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
    as_json: bool,
) -> None:
    """Play an invented evening: choose stars, sight them, push to six objects.

    At the end the faults that were hidden are shown beside what was worked out.
    """
    scenario = saltpan_flat() if south else thornback_ridge()
    if closed:
        if not serve:
            raise UserError("--controller was given without --serve", "", "Add --serve")
        serve_beside(scenario, seed, host, port, controller_port)
        return
    if serve:
        serve_live(scenario, seed, host, port)
        return
    evening = play(scenario, seed, int(stars))
    if as_json:
        print_json(evening.answer())
    else:
        click.echo("\n".join(story(evening)))


def serve_live(scenario: Scenario, seed: int, host: str, port: int) -> None:
    """The pages over a simulated telescope, in another process, with a hand that obeys the page.

    Everything goes to a logbook of its own, thrown away at the end.
    """
    from plumbstar.commands.serve import command as serve
    from plumbstar.simulate.hand import PretendHand

    with tempfile.TemporaryDirectory(prefix="plumbstar-demo-") as folder:
        kit = Path(folder) / "kit.toml"
        mount_file = Path(folder) / "hidden.json"
        files.write(mount_file, to_json(to_mapping(scenario.hidden)))
        telescope = subprocess.Popen(
            [
                sys.executable, "-m", "plumbstar", "simulate", "--json", "--no-serial",
                "--mount", str(mount_file), "--write-kit", str(kit),
            ],
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        try:
            assert telescope.stdout is not None
            said = json.loads(telescope.stdout.readline() or "{}")
            if "control_port" not in said:
                raise UserError(
                    "The simulated telescope did not start",
                    "",
                    "Try `plumbstar simulate` by itself",
                )
            click.echo(
                "A simulated telescope with hidden faults is connected, and a pretend hand does "
                "what the page asks: choose stars, then Sight. Nothing is kept afterwards."
            )
            PretendHand(
                f"http://127.0.0.1:{port}",
                ("127.0.0.1", int(said["control_port"])),
                scenario.skyline.text(),
                scenario.site.name,
            ).start()
            s = scenario.site
            serve.main(
                [
                    "--site", f"{s.lat_deg},{s.lon_deg},{s.elevation_m}", "--kit", str(kit),
                    "--host", host, "--port", str(port), "--utc", scenario.start.iso(),
                    "--logbook", str(Path(folder) / "demo.db"),
                ],
                standalone_mode=False,
            )  # fmt: skip
        finally:
            telescope.terminate()
            telescope.wait(timeout=10)


def serve_beside(scenario: Scenario, seed: int, host: str, port: int, controller_port: int) -> None:
    """The pages beside a simulated closed controller, whose display is drawn here and on a page."""
    from plumbstar.commands import closed
    from plumbstar.commands.serve import command as serve
    from plumbstar.simulate.closed_page import ControllerPage
    from plumbstar.simulate.closed_terminal import help_text

    with tempfile.TemporaryDirectory(prefix="plumbstar-demo-") as folder:
        tube = closed.telescope(scenario.site, scenario.start, scenario.hidden, scenario.kit, seed)
        kit = Path(folder) / "kit.toml"
        files.write(kit, closed.kit_beside(kits.example_text(), tube))
        page = ControllerPage(tube, controller_port)
        page.start()
        click.echo(
            "A telescope with hidden faults and a closed controller stands ready. Its display and "
            f"your hands: here, or at http://127.0.0.1:{page.port}/ in a second window. Nothing is "
            f"kept afterwards.\n\n{help_text()}\n"
        )
        closed.typed_beside(page)
        s = scenario.site
        try:
            serve.main(
                [
                    "--site", f"{s.lat_deg},{s.lon_deg},{s.elevation_m}", "--kit", str(kit),
                    "--host", host, "--port", str(port), "--utc", scenario.start.iso(),
                    "--logbook", str(Path(folder) / "demo.db"), "--no-encoders",
                ],
                standalone_mode=False,
            )  # fmt: skip
        finally:
            t = page.truth()
            page.close()
            click.echo(closed.truth_words(t.favoured, t.clock, t.altitude_zero_deg))


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
            f"  {words.term(name):<24}{truth:>+8.2f}{unit}{value:>+9.2f}{unit}{sigma:>10.2f}{unit}"
        )
    hidden, solved = stop_error_deg(e)
    lines += [
        "",
        f"The stop reads {abs(hidden):.2f}° {'low' if hidden > 0 else 'high'} and was solved as "
        f"{abs(solved):.2f}° {'low' if solved > 0 else 'high'}, from {len(e.fix.sightings)} stars.",
        "",
        "By night only: never point a telescope at or near the Sun.",
    ]
    return lines
