"""The command line: a list of names, and the one module that each needs.

Only the command asked for is imported, so that ``plumbstar --help`` loads no arithmetic.
"""

from __future__ import annotations

import errno
import importlib
import os
import sys
from typing import TYPE_CHECKING

import click

from plumbstar import __version__
from plumbstar.commands import written_help
from plumbstar.errors import UserError
from plumbstar.sky.naming import minor_source, own_source

if TYPE_CHECKING:
    from plumbstar.sky.lists.deepsky import DeepSkyList
    from plumbstar.sky.naming.minor_bodies import MinorBodies

#: Command -> (module under plumbstar.commands, line in --help), in the order of an evening.
COMMANDS = {
    "demo": ("demo", "An invented evening, from the first star to the sixth object."),
    "tonight": ("tonight", "What is worth looking at tonight, and in which order."),
    "choose": ("choose", "Which stars to sight tonight, and how well you could then point."),
    "fix": ("fix", "How the telescope stands, worked out from sightings of stars."),
    "push": ("push", "How far to push to a target, and the chance to find it."),
    "field": ("field", "What the eyepiece should show: a sentence and a drawing."),
    "card": ("card", "The evening on one sheet: for paper, phone and calendar."),
    "places": ("places", "Where stars, planets, Sun and Moon stand."),
    "orbits": ("orbits", "Comets and minor planets: add elements, list, remove."),
    "objects": ("objects", "Your own objects: add from a table, list, remove, export."),
    "site": ("site", "Your sites by name; coordinates in any form; towns."),
    "serve": ("serve", "The pages for the phone at the telescope."),
    "replay": ("replay", "Do a recorded evening again, as serve --record wrote it."),
    "log": ("log", "The logbook: list, show, export, import, undo."),
    "why": ("why", "What went wrong, how sure, and how to mend it."),
    "controller": (
        "controller",
        "Beside a controller that shows only a number.",
    ),
    "mount": ("mount", "What past outings teach about this mount, and what to mend first."),
    "check": ("check", "Guided checks of the telescope, and of this computer."),
    "collimate": (
        "collimate",
        "Are the mirrors in line? Told from a photograph of a star out of focus.",
    ),
    "readings": ("readings", "Watch the encoders, to check the wiring."),
    "simulate": ("simulate", "A simulated telescope with hidden faults."),
    "completion": ("completion", "Complete commands, targets and sites with the Tab key."),
    "kit": ("kit", "Write the example kit file, or check yours."),
}


#: Where, when and with what: left out, each has a default of its own. Given as nothing, as by a
#: script whose variable is not set, that default would be taken without a word.
NEVER_EMPTY = {
    "--site": "coordinates, or the name of a site you keep",
    "--utc": "the moment, as 2027-01-28T19:00:00Z",
    "--kit": "a kit file",
    "--eyepiece": "an eyepiece of the kit",
    "--skyline": "azimuth:altitude pairs, or a file of them",
    "--logbook": "a logbook file",
}


def _refuse_empty(args: list[str]) -> None:
    """Raises UserError where one of those options was given, and nothing after it."""
    for k, word in enumerate(args):
        name, given, value = word.partition("=")
        if word == "--":
            return
        if not given and k + 1 < len(args):
            value, given = args[k + 1], "="
        if name in NEVER_EMPTY and given and not value.strip():
            raise UserError(
                f"{name} was given, and nothing after it", NEVER_EMPTY[name], f"Or leave {name} out"
            )


class LazyGroup(click.Group):
    """A group that imports a command's module only when the command is used."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not ctx.resilient_parsing:
            _refuse_empty(args)
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"plumbstar.commands.{COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


def _credits(ctx: click.Context, param: click.Parameter, asked: bool) -> None:
    """--credits: print and leave, without a command."""
    if asked and not ctx.resilient_parsing:
        from plumbstar.text.credits import credits

        click.echo(credits())
        ctx.exit()


@click.command(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="plumbstar")
@click.option(
    "--credits",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_credits,
    help="Print the licences, and whose data this is.",
)
def group() -> None:
    """Point a hand-moved telescope from a few sightings, and know the odds.

    Start with `plumbstar demo`. Never point a telescope at or near the Sun.
    """
    own_source.use(_own_objects)
    minor_source.use(_minor_bodies)


def _own_objects() -> DeepSkyList:
    """The observer's own objects, from beside the logbook; read when first looked for."""
    from plumbstar.logbook import own_file

    return own_file.load(own_file.default_path())


def _minor_bodies() -> MinorBodies:
    """Comets and minor planets, from the elements beside the logbook."""
    from plumbstar.logbook import elements_file

    return elements_file.load(elements_file.default_folder()).bodies


def _answer(error: str, remedy: str) -> None:
    """What went wrong, for whoever asked with --json."""
    from plumbstar.commands.output import print_json
    from plumbstar.contract.answers.running import ErrorReport

    print_json(ErrorReport(error=error, remedy=remedy))


def main() -> None:
    """Run the command line; a user's mistake is one clear message and exit code 1."""
    # Our matrices are small. A second thread gains nothing on an idle machine; on a busy one, or
    # a small board, it spins while it waits: three stars were chosen in 2.7 s of processor time
    # for 1.0. Read by numpy's OpenBLAS when it is loaded, which is later; what is set stays.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        _run()
    except OSError as e:
        # A file that a command names is opened elsewhere, where its troubles are told: what is
        # left is the output itself, sent by the shell to a disk that will not have it.
        if e.filename is not None or e.errno not in (
            errno.ENOSPC,
            errno.EDQUOT,
            errno.EFBIG,
            errno.EIO,
        ):
            raise
        click.echo(
            f"plumbstar: the output could not be written whole ({e.strerror}). Make room where it "
            "goes, and run the command again",
            err=True,
        )
        os._exit(1)  # at the usual end Python would try once more, and complain


def _run() -> None:
    try:
        if (told := written_help.written(sys.argv[1:])) is not None:
            click.echo(told)
            return
        code = group.main(prog_name="plumbstar", standalone_mode=False)
        sys.stdout.flush()  # here, where a full disk behind > can still be told of
    except UserError as e:
        if "--json" in sys.argv:
            _answer(str(e), e.remedy)
        click.echo(f"plumbstar: {e}", err=True)
        sys.exit(1)
    except click.exceptions.Exit as e:
        sys.exit(e.exit_code)
    except click.ClickException as e:
        if "--json" in sys.argv:
            remedy = "See plumbstar --help, or --help after the command's name"
            _answer(e.format_message(), remedy)
        e.show()
        sys.exit(e.exit_code)
    except (KeyboardInterrupt, click.Abort):
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    sys.exit(code if isinstance(code, int) else 0)
