"""``plumbstar check``: guided checks, their arithmetic and a verdict."""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path

import click
import msgspec

from plumbstar.commands.options import json_option, kit_of, kit_option
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.mending import (
    CheckNumberReport,
    ChecksReport,
    CheckTextReport,
    FindingReport,
    InstallationReport,
    OneCheckReport,
    VerdictReport,
)
from plumbstar.diagnose import checks
from plumbstar.diagnose.checks.beside import Feasible, beside, beside_words
from plumbstar.diagnose.checks.check import Check, read_one
from plumbstar.diagnose.checks.typed import separate
from plumbstar.diagnose.checks.verdict import Verdict
from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, path_of
from plumbstar.text.words import upper_first
from plumbstar.web.door.addresses import PORT

#: The one check that needs no screwdriver.
INSTALLATION = "installation"
#: What was written down, by the input's key: a text, or the texts of a list.
Typed = dict[str, str | list[str]]
_STATE = {"good": "Good.", "mend": "To mend.", "unsure": "Not settled."}


def parse_numbers(check: Check, words: tuple[str, ...]) -> Typed:
    """``key=value,value`` words, and bare numbers for the check's first list.

    A check without a list takes bare numbers one by one, in the order of its inputs. Raises
    :class:`UserError`.
    """
    raw: Typed = {}
    bare: list[str] = []
    for word in words:
        if "=" in word:
            key, value = word.split("=", 1)
            raw[key.strip().replace("-", "_")] = value
        else:
            bare.append(word)
    if not bare:
        return raw
    lists = [i for i in check.inputs if i.many]
    if len(lists) == 1:
        if lists[0].key in raw:
            raise UserError(
                f"two lists of {lists[0].key}",
                "one list",
                f"Give either {lists[0].key}=... or bare numbers",
            )
        raw[lists[0].key] = separate(" ".join(bare), lists[0].quoted, False)
        return raw
    if lists:
        keys = " ".join(f"{i.key}=..." for i in lists)
        raise UserError(
            f"bare numbers for a check with {len(lists)} lists", keys, "Say which list they are"
        )
    bare = [x for word in bare for x in separate(word, check.id, " " not in word)]
    open_inputs = [i for i in check.inputs if i.key not in raw]
    if len(bare) > len(open_inputs):
        raise UserError(
            f"{len(bare)} numbers",
            " ".join(i.key for i in check.inputs),
            "Give them in this order",
        )
    for i, value in zip(open_inputs, bare, strict=False):
        raw[i.key] = value
    return raw


def _wrapped(text: str, first: str = "", rest: str | None = None) -> str:
    return textwrap.fill(
        text, 92, initial_indent=first, subsequent_indent=first if rest is None else rest
    )


def attended() -> bool:
    """Whether somebody can answer a question."""
    return sys.stdin.isatty()


def describe(check: Check) -> str:
    """The check in words: warning first, then what is needed, the steps, and what to write down."""
    lines = [check.title, _wrapped(check.why)]
    if check.warning:
        lines += ["", _wrapped(check.warning, "! ", "  ")]
    lines += ["", f"You need: {'; '.join(check.needs)}."]
    lines += [_wrapped(s, f"{n}. ", "   ") for n, s in enumerate(check.steps, 1)]
    lines += ["", "Write down:"]
    for i in check.inputs:
        extra = f" ({' or '.join(i.choices)})" if i.choices else f", {i.unit}" if i.unit else ""
        left_out = "as the kit says" if i.text else "not asked for yet"
        given = "" if i.default is None else f"; left out: {i.default or left_out}"
        many = "=x,x,x" if i.many else "=x"
        lines.append(f"  {i.key}{many}  {i.label}{extra}{given}")
    sample = " ".join(
        f"{i.key}={'x,x,x' if i.many else 'x'}" for i in check.inputs if i.default is None
    )
    lines += ["", f"Then: plumbstar check {check.id} {sample}"]
    return "\n".join(lines)


def verdict_text(v: Verdict) -> str:
    """The verdict for a terminal: the sentence first, then what to do, then the numbers."""
    lines = [f"{_STATE[v.state]} {v.sentence}"]
    lines += [f"Next: {v.mend}.", ""] if v.mend else [""]
    return "\n".join(lines + [f"  {n}" for n in v.numbers])


def ask(check: Check, raw: Typed) -> Typed:
    """Prompt for what is missing, until it is right."""
    for i in check.inputs:
        if i.key in raw or i.default is not None:
            continue
        while True:
            unit = f" ({i.unit})" if i.unit else ""
            many = ", separated by spaces" if i.many else ""
            answer = click.prompt(f"{upper_first(i.label)}{unit}{many}", err=True)
            try:
                read_one(i, answer, check.id)
            except UserError as e:
                click.echo(f"{e}.", err=True)
                continue
            raw[i.key] = answer
            break
    return raw


def _answer(check: Check) -> CheckTextReport:
    return msgspec.convert(check, CheckTextReport, from_attributes=True)


def _installation(kit: str | None, logbook: Path, host: str, port: int, as_json: bool) -> None:
    """Everything that must be in place, one line each; exit code 1 if something is to be mended."""
    from plumbstar.commands import installation

    found = []
    for f in installation.look(kit, logbook, port, host):
        found.append(f)
        if not as_json:
            mark = {"good": "good  ", "unsure": "look  ", "mend": "MEND  "}[f.state]
            click.echo(f"{mark}{f.about}: {f.sentence}." + (f" {f.remedy}." if f.remedy else ""))
    wrong = [f for f in found if f.state == "mend"]
    if as_json:
        rows = tuple(msgspec.convert(f, FindingReport, from_attributes=True) for f in found)
        print_json(InstallationReport(good=not wrong, findings=rows))
    elif wrong:
        click.echo(f"\n{len(wrong)} to mend before going out: {', '.join(f.about for f in wrong)}.")
    else:
        click.echo("\nEverything that is needed is in place.")
    if wrong:
        sys.exit(1)


def _allow_beside(check: Check, numbers: tuple[str, ...], as_json: bool) -> None:
    """How it is done beside a closed controller. Raises :class:`UserError` where it cannot be."""
    if beside(check) is Feasible.CANNOT and not numbers:
        can = ", ".join(c.id for c in checks.CHECKS if beside(c) is not Feasible.CANNOT)
        raise UserError(
            f"'{check.id}': {beside_words(check).rstrip('.')}",
            f"one of {can}",
            "The stop, too, is told by its numbers over many nights: `plumbstar controller nights`",
        )
    if beside(check) is Feasible.BY_GAUGE and not numbers:
        click.echo(f"{_wrapped(beside_words(check))}\n", err=as_json)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("name", required=False)
@click.argument("numbers", nargs=-1)
@kit_option
@json_option
@click.option(
    "--logbook", envvar=ENVIRONMENT, metavar="FILE", help="For `installation`: the logbook."
)
@click.option("--host", default="127.0.0.1", help="For `installation`: the pages' address.")
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    default=PORT,
    help="For `installation`: the pages' port.",
)
def command(
    name: str | None,
    numbers: tuple[str, ...],
    kit_path: str | None,
    logbook: str | None,
    host: str,
    port: int,
    as_json: bool,
) -> None:
    """Guided checks with a screwdriver at hand; `installation` looks at this computer. Alone, it
    lists them.

    NUMBERS are key=value,value for each thing written down; bare numbers go to the check's list.
    """
    if name == INSTALLATION:
        _installation(kit_path, path_of(logbook), host,
                      port, as_json)  # fmt: skip
        return
    if name is None:
        if as_json:
            print_json(ChecksReport(checks=tuple(_answer(c) for c in checks.CHECKS)))
            return
        width = max(len(c.id) for c in checks.CHECKS)
        closed = kit_path is not None and kit_of(kit_path).connection.kind == "controller"
        for c in checks.CHECKS:
            told = f": {beside_words(c)}" if closed and beside_words(c) else ""
            click.echo(_wrapped(f"{c.id:<{width}}  {c.title}{told}", "", " " * (width + 2)))
        click.echo(f"\n{INSTALLATION:<{width}}  Is everything in place on this computer?")
        click.echo("\nplumbstar check NAME tells what to do and takes the numbers.")
        return
    check = checks.find(name)
    kit = kit_of(kit_path)
    if kit.connection.kind == "controller":
        _allow_beside(check, numbers, as_json)
    raw = parse_numbers(check, numbers)
    missing = [i for i in check.inputs if i.default is None and i.key not in raw]
    if missing and not numbers:
        if as_json and not attended():
            print_json(OneCheckReport(check=_answer(check)))
            return
        click.echo(describe(check), err=as_json)
        if not attended():
            return
        click.echo("", err=True)
    if missing and attended():
        raw = ask(check, raw)
    verdict = check.run(raw, kit)
    if as_json:
        print_json(
            VerdictReport(
                check=check.id,
                kit=kit.name,
                state=verdict.state,
                sentence=verdict.sentence,
                numbers=tuple(
                    msgspec.convert(n, CheckNumberReport, from_attributes=True)
                    for n in verdict.numbers
                ),
                mend=verdict.mend,
            )
        )
        return
    if check.warning and numbers:
        click.echo(_wrapped(check.warning, "! ", "  ") + "\n")
    click.echo(verdict_text(verdict))
