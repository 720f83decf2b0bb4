"""``plumbstar log mend`` and ``priors``: what the outings teach, and from when on."""

from __future__ import annotations

import click

from plumbstar.commands import options as opt
from plumbstar.commands.log.book import book_at, command, options, utc_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import MendedReport
from plumbstar.contract.answers.mending import PriorsReport
from plumbstar.errors import UserError
from plumbstar.logbook.records import Pieces
from plumbstar.mount.terms import STOP
from plumbstar.text.words import joined, many, sigma_words, term, term_key

KITS_OWN = "Of everything else the kit's own priors hold: a closed controller gives no readings."


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
@click.option(
    "--added-mm",
    "pieces",
    metavar="PIECES",
    help="What was put under the upright stop, in mm, as 3x1+0.5; a minus for what was taken out.",
)
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@utc_option
@options
def mend(
    text: str,
    names: tuple[str, ...],
    pieces: str | None,
    kit_text: str | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Record a change to the mount, as "stop shimmed".

    Its terms are learnt anew from here on. With --added-mm the stop is known to have moved by so
    much, and the next night starts from there.
    """
    if pieces is not None:
        names = tuple(dict.fromkeys((*names, STOP)))
    if not names:
        raise UserError("no --term", "the term that the mend changed", "As --term altitude_zero")
    terms = _terms(names)
    when = opt.instant_of(utc)
    lines: list[str] = []
    with book_at(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        put: Pieces = ()
        box: Pieces = ()
        if pieces is not None:
            from plumbstar.diagnose import shims

            put, box = shims.read_pieces(pieces), shims.listed(kit)
            lines = shims.mended_lines(put, kit, shims.shims_now(kit, book.mends(kit.name)))
        book.add_mend(kit.name, terms, text, when, put, box)
    known = bool(put) and kit.stop.raised_by(1.0) is not None
    anew = joined([term(t) for t in terms if not (known and t == STOP)])
    since = f"{when.iso()[:16]}Z on" if utc else "now on"
    first = f"Recorded for {kit.name}: {text}."
    say(
        as_json,
        MendedReport(
            kit=kit.name,
            mend=text,
            terms=terms,
            added_mm=sum(t * n for t, n in put) if put else None,
        ),
        f"{first} Learnt anew from {since}: {anew}." if anew else first,
        *lines,
    )


@command.command("priors")
@click.option("--kit", "kit_text", metavar="NAME", help="The kit (else that of the last outing).")
@click.option("--reset", is_flag=True, help="Learn all terms anew from now on.")
@click.option("--as-kit", is_flag=True, help="Print what was learnt as lines for a kit file.")
@utc_option
@options
def priors(
    kit_text: str | None,
    reset: bool,
    as_kit: bool,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """What past outings teach about the mount, term by term."""
    from plumbstar.commands.log.as_kit import NOT_TWICE, kit_lines
    from plumbstar.commands.mount_answer import centring_answer, learnt_answer, pushes_answer
    from plumbstar.commands.mount_beside import beside_answer, beside_lines
    from plumbstar.diagnose import history
    from plumbstar.diagnose.hand import hand_sentence
    from plumbstar.diagnose.history import from_logbook
    from plumbstar.diagnose.score import score_of, score_sentence
    from plumbstar.diagnose.teach import learnt_priors
    from plumbstar.mount.terms import shown_in

    with book_at(path) as book:
        kit = opt.kit_in_use(book, kit_text)
        if reset:
            book.add_mend(kit.name, _terms(()), "all learnt anew", opt.instant_of(utc))
        learnt = learnt_priors(book, kit)
        score = score_of(book, kit)
        since = max((t.since for t in learnt.terms if t.name == STOP and t.since), default=None)
        book_mends = [
            m
            for m in book.mends(kit.name)
            if m.put and kit.stop.raised_by(1.0) is not None and (since is None or m.utc >= since)
        ]
        # A closed controller gives no readings: what its nights and pushes tell is all there is.
        beside = beside_answer(book, kit, score) if kit.connection.kind == "controller" else None
        # Weighed anew only where a mend told its pieces: it says which way they went.
        mended = None
        if book_mends and any(t.outings for t in learnt.terms):
            mended = from_logbook.summary_of(book, kit, opt.field_of(kit, None, None)[0])[0].mended
    for_kit = kit_lines(learnt, kit, mended)
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
    for m in book_mends:
        lines.append(f"  Reckoned in: {m.text} ({m.utc.iso()[:10]}), {m.put_mm:+g} mm")
    if came := history.mended_sentence(mended):
        lines.append(f"  {came}")
    for t in learnt.terms:
        factor, unit = shown_in(t.name)
        before = f"kit {t.kit_mean * factor:+.2f} +- {sigma_words(t.kit_sigma * factor)}"
        name = term(t.name)
        if not t.outings:
            lines.append(f"  {name}: not learnt; {before} {unit}")
            continue
        value, sigma, scatter = (x * factor for x in (t.mean, t.sigma, t.scatter))
        odd = f"; stands apart: outing {', '.join(map(str, t.odd))}" if t.odd else ""
        lines.append(
            f"  {name}: {value:+.2f} +- {sigma_words(sigma)} {unit} ({before}) from "
            f"{many(len(t.outings), 'outing')}, changes by about {scatter:.2f} between them{odd}"
        )
    if learnt.hand is not None:
        lines.append(f"  {hand_sentence(learnt.hand)}")
    if kept := score_sentence(score):
        lines.append(f"  {kept}")
    if learnt.left_out:
        which = ", ".join(map(str, learnt.left_out))
        lines.append(f"  Left out, as their sightings contradict one another: outing {which}")
    if beside is not None and not told:
        lines = [*(lines[:1] if reset else ()), *beside_lines(beside), KITS_OWN]
    if as_kit:
        lines = [NOT_TWICE, *for_kit] if told else lines
    say(
        as_json,
        PriorsReport(
            kit=kit.name,
            kit_toml="\n".join(for_kit),
            outings=tuple(told),
            left_out=tuple(learnt.left_out),
            centring=centring_answer(learnt.hand),
            pushes=pushes_answer(score),
            terms=tuple(learnt_answer(t) for t in learnt.terms),
            beside=beside,
        ),
        *lines,
    )
