"""``plumbstar mount``: what past outings teach about this mount, and what to mend first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import click

from plumbstar.commands import options as opt
from plumbstar.commands.mount_answer import mount_answer
from plumbstar.commands.mount_rows import LATEST, MOST, plot, rows_of
from plumbstar.commands.output import print_json, say
from plumbstar.diagnose import history, shims
from plumbstar.diagnose.hand import hand_sentence
from plumbstar.diagnose.history import Summary, TermChange, drawing, from_logbook
from plumbstar.diagnose.history.drawing import Dress
from plumbstar.diagnose.score import score_of, score_sentence
from plumbstar.diagnose.teach import OutingsTold
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import ENVIRONMENT, Logbook, Mend, path_of
from plumbstar.text import files
from plumbstar.text.words import chance, sigma_words, term


def summary_of(
    book: Logbook, kit: Kit, eyepiece: str | None = None
) -> tuple[Summary, OutingsTold, str]:
    """The summary, what the outings told, and the eyepiece it speaks of. Raises UserError."""
    field, name = opt.field_of(kit, eyepiece, None)
    summary, told = from_logbook.summary_of(book, kit, field)
    return summary, told, name


def _dated(c: TermChange) -> str:
    """The option that dates a mend just before the first outing after a step: without it, a mend is
    dated now, and all that was learnt since the step would be forgotten too."""
    return f" --utc {c.utc.plus_seconds(-60.0).iso()[:19]}Z" if c.utc is not None else ""


def text_of(
    s: Summary,
    told: OutingsTold,
    kit: Kit,
    eyepiece: str,
    mends: Sequence[Mend] = (),
    every: bool = False,
) -> str:
    """The summary for a terminal; ``every``: each outing on a line of its own."""
    lines = [f"{kit.name}: {history.sentence(s)}", ""]
    for n, c in enumerate(s.changes):
        if n:  # the first is in the sentences above
            lines.append(f"{history.change_sentence(c)}.")
        if c.kind == "jump":
            lines.append(
                f"{'  ' if n else ''}If you know what changed the {term(c.name)}, record it: "
                f'plumbstar log mend "what was done" --term {c.name}{_dated(c)}'
            )
    if any(c.kind == "jump" for c in s.changes):
        lines.append(
            "Until it is recorded, the next fix relies on the change as far as these outings show "
            "it: plumbstar log priors"
        )
    if not s.changes and s.outings >= 3:
        lines.append(f"Steady in all terms: {chance(s.steady)}.")
    lines += [
        "",
        "Each lasting term, outing by outing (o the value, the bar 1 sigma, : what the kit says)",
    ]
    if s.outings > MOST and not every:
        lines.append(
            f"The last {LATEST}; those before in rows (o their middle, the bar two in three of "
            "them). --all lists each, --svg FILE draws them."
        )
    for t in s.terms:
        word = {"trusted": "known well enough", "partly": "partly known", "open": "still open"}
        lines.append(
            f"  {term(t.name)}: {t.now:+.2f} ± {sigma_words(t.now_sigma)} {t.unit} now, "
            f"± {sigma_words(t.next_sigma)} next time (kit ± {sigma_words(t.kit_sigma)}): "
            f"{word[t.trust]}"
        )
        if any(p.tells for p in t.points):
            lines += plot(t, rows_of(t, s, mends, every))
    lines += [
        "",
        f"Chance that a target above 20 deg is in the field of the {eyepiece} "
        f"({s.field_deg:.2f} deg):"
        f" one star {chance(s.chance_one_star)}, two good stars {chance(s.chance_two_stars)}, "
        f"trusting the stop {chance(s.chance_trusting)}",
    ]
    if s.jobs:
        lines.append(
            "To mend, most gain first (more of 100 targets in the field: one star / two stars / "
            "trusting the stop):"
        )
        for n, j in enumerate(s.jobs, 1):
            each = (j.gain_one_star, j.gain_two_stars, j.gain_trusting)
            gains = " / ".join(f"{100 * max(g, 0.0):+.0f}" for g in each)
            advice = history.job_advice(j)
            how = f": {advice}" if advice is not None else ""
            lines.append(f"  {n}. {history.job_words(j)}{how} ({gains})")
    if told.hand is not None:
        lines.append(hand_sentence(told.hand))
    if told.left_out:
        which = ", ".join(map(str, told.left_out))
        lines.append(f"Left out, as their sightings contradict one another: outing {which}.")
    return "\n".join(lines)


@click.command()
@click.option("--kit", "kit_name", metavar="NAME", help="The kit (else that of the last outing).")
@click.option(
    "--logbook",
    "path",
    metavar="PATH",
    help=f"The logbook file (else ${ENVIRONMENT}, else the usual place).",
)
@click.option(
    "--eyepiece", metavar="NAME", help="Eyepiece for the hit chances. Default: the widest."
)
@click.option("--all", "every", is_flag=True, help="A line for each outing, however many.")
@click.option(
    "--svg", "svg_path", metavar="FILE", help="Draw stop, cone and lean over the outings there."
)
@click.option(
    "--dress",
    type=click.Choice(["night", "day"]),
    default="day",
    show_default=True,
    help="Colours of the drawing.",
)
@opt.json_option
def command(
    kit_name: str | None,
    path: str | None,
    eyepiece: str | None,
    every: bool,
    svg_path: str | None,
    dress: str,
    as_json: bool,
) -> None:
    """What past outings teach about this mount, and what to mend first."""
    where = path_of(path)
    if not where.exists():
        raise UserError(
            f"There is no logbook at {where} yet",
            "",
            "`plumbstar serve` logs outings; `plumbstar log import FILE` brings in others",
        )
    with Logbook.open(where, create=False) as book:
        kit = opt.kit_in_use(book, kit_name)
        score = score_of(book, kit)
        try:
            summary, told, named = summary_of(book, kit, eyepiece)
        except UserError:
            # Beside a closed controller there are no readings, but its nights, and promises.
            if kit.connection.kind != "controller":
                raise
            from plumbstar.commands.mount_beside import beside_answer, beside_lines

            beside = beside_answer(book, kit, score)
            if beside is None or eyepiece or svg_path:
                raise
            say(as_json, beside, *beside_lines(beside))
            return
        mends = book.mends(kit.name)
        strip = from_logbook.strip_from(book, kit, summary, told) if svg_path else None
    if svg_path and strip is not None:
        files.write(svg_path, drawing.svg(strip, cast("Dress", dress)) + "\n", "the drawing")
    text = text_of(summary, told, kit, named, mends, every)
    if said := score_sentence(score):
        text += f"\n{said}"
    advice = shims.advise_from(summary, kit, mends, told.noise(kit))
    if advice is not None:
        text += f"\n\n{advice.text}"
        text += f"\n\n{advice.then}." if advice.then is not None else ""
    if as_json:
        print_json(mount_answer(summary, kit.name, named, told, advice, score))
    else:
        click.echo(text)
        if svg_path:
            click.echo(f"\nThe outings are drawn in {svg_path}.")
