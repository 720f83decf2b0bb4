"""``plumbstar log mend`` and ``priors``: what the outings teach, and from when on."""

from __future__ import annotations

import click

from plumbstar.commands import options as opt
from plumbstar.commands.log.book import book_at, command, options, utc_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import MendedReport
from plumbstar.contract.answers.mending import PriorsReport
from plumbstar.errors import UserError
from plumbstar.text.words import joined, many, term, term_key


def _terms(names: tuple[str, ...]) -> tuple[str, ...]:
    from plumbstar.mount.terms import PERSISTENT

    asked = tuple(term_key(n) for n in names)
    for n in asked:
        if n not in PERSISTENT:
            raise UserError(f"the term '{n}'", f"one of {', '.join(PERSISTENT)}", "Check it")
    return asked or PERSISTENT


@command.command("mend")
@click.argument("text")
@click.option("--term", "names", multiple=True, help="The term it changed; may be repeated.")
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@utc_option
@options
def mend(
    text: str,
    names: tuple[str, ...],
    kit_text: str | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Record a change to the mount, as "stop shimmed": its terms are learnt anew from here on."""
    if not names:
        raise UserError("no --term", "the term that the mend changed", "As --term altitude_zero")
    terms = _terms(names)
    with book_at(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        book.add_mend(kit.name, terms, text, opt.instant_of(utc))
    told = joined([term(t) for t in terms])
    since = f"{opt.instant_of(utc).iso()[:16]}Z on" if utc else "now on"
    say(
        as_json,
        MendedReport(kit=kit.name, mend=text, terms=terms),
        f"Recorded for {kit.name}: {text}. Learnt anew from {since}: {told}.",
    )


@command.command("priors")
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@click.option("--reset", is_flag=True, help="Learn all terms anew from now on.")
@utc_option
@options
def priors(
    kit_text: str | None, reset: bool, path: str | None, as_json: bool, utc: str | None
) -> None:
    """What past outings teach about the mount, term by term."""
    from plumbstar.commands.mount_answer import learnt_answer
    from plumbstar.diagnose.teach import learnt_priors
    from plumbstar.mount.terms import shown_in

    with book_at(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        if reset:
            book.add_mend(kit.name, _terms(()), "all learnt anew", opt.instant_of(utc))
        learnt = learnt_priors(book, kit)
    told = sorted({o for t in learnt.terms for o in t.outings})
    lines = [
        f"{kit.name}: {many(len(told), 'outing')} teach{'es' if len(told) == 1 else ''} about it."
        if told
        else f"{kit.name}: nothing learnt yet; the kit's own priors hold."
    ]
    if reset:
        lines.insert(
            0, "All terms are learnt anew from now on; `plumbstar log undo` takes it back."
        )
    for t in learnt.terms:
        factor, unit = shown_in(t.name)
        before = f"kit {t.kit_mean * factor:+.2f} +- {t.kit_sigma * factor:.2f}"
        name = term(t.name)
        if not t.outings:
            lines.append(f"  {name}: not learnt; {before} {unit}")
            continue
        value, sigma, scatter = (x * factor for x in (t.mean, t.sigma, t.scatter))
        odd = f"; stands apart: outing {', '.join(map(str, t.odd))}" if t.odd else ""
        lines.append(
            f"  {name}: {value:+.2f} +- {sigma:.2f} {unit} ({before}) from "
            f"{many(len(t.outings), 'outing')}, changes by about {scatter:.2f} between them{odd}"
        )
    if learnt.left_out:
        which = ", ".join(map(str, learnt.left_out))
        lines.append(f"  Left out, as their sightings contradict one another: outing {which}")
    say(
        as_json,
        PriorsReport(
            kit=kit.name,
            outings=tuple(told),
            left_out=tuple(learnt.left_out),
            terms=tuple(learnt_answer(t) for t in learnt.terms),
        ),
        *lines,
    )
