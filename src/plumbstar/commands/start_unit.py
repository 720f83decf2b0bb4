"""``serve --write-unit``: the pages start with the computer, by systemd (systemd.service(5))."""

from __future__ import annotations

import getpass
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import click
from click.core import ParameterSource

from plumbstar.errors import UserError
from plumbstar.text import files

#: What is of one evening, or of this run alone.
_NOT_FOR_EVERY_START = {
    "utc_text": "an evening's clock",
    "record_path": "one recording",
    "rehearsal_path": "a rehearsal",
    "as_json": "a report",
}
_PATHS = ("kit_path", "logbook")
#: Who may read and write serial lines: Debian's and others' name, and Arch's.
_SERIAL_GROUPS = ("dialout", "uucp")


def arguments(ctx: click.Context) -> list[str]:
    """What was typed after ``serve``, for another start from any folder.

    Raises :class:`UserError` for what cannot be the same at every start.
    """
    out = []
    for param in ctx.command.params:
        name = param.name or ""
        typed = ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE
        if not typed or name == "unit_path":
            continue
        option, value = param.opts[-1], ctx.params[name]
        if name in _NOT_FOR_EVERY_START:
            raise UserError(
                f"{option} beside --write-unit",
                f"options that hold at every start; {option} is for {_NOT_FOR_EVERY_START[name]}",
                f"Leave {option} out",
            )
        for one in value if isinstance(value, tuple) else (value,):
            if one is True:
                out.append(option)
            else:
                text = str(Path(str(one)).expanduser().resolve()) if name in _PATHS else str(one)
                out += [option, text]
    return out


def unit_text(
    words: Sequence[str], user: str, groups: Sequence[str], environment: Mapping[str, str]
) -> str:
    """The unit. It waits for no network: at a dark site there is none."""
    exec_start = " ".join(_quoted(w) for w in words)
    extra = [f"SupplementaryGroups={' '.join(groups)}"] if groups else []
    extra += [f"Environment={_quoted(f'{k}={v}')}" for k, v in environment.items()]
    return "\n".join(
        [
            "[Unit]",
            "Description=Plumbstar: the pages for the phone at the telescope",
            "After=network.target",
            "",
            "[Service]",
            f"User={user}",
            f"ExecStart={exec_start}",
            "Restart=on-failure",
            "RestartSec=2",
            *extra,
            "NoNewPrivileges=yes",
            "ProtectSystem=full",
            "PrivateTmp=yes",
            "",
            "[Install]",
            "WantedBy=multi-user.target",
            "",
        ]
    )


def _quoted(word: str) -> str:
    """As systemd reads it back: ``%`` and ``$`` mean something to it, even between quotes."""
    text = word.replace("%", "%%").replace("$", "$$")
    if text and re.fullmatch(r"[\w@%+=:,./$-]+", text):
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def write(path: str, ctx: click.Context, environment: Mapping[str, str]) -> None:
    """The unit into a file, ``-`` for standard output, and what to do with it."""
    if not sys.platform.startswith("linux"):
        raise UserError(
            "--write-unit on this system", "Linux with systemd", "Start the pages by hand"
        )
    import grp

    there = {g.gr_name for g in grp.getgrall()}
    kept = {k: environment[k] for k in ("XDG_DATA_HOME", "PLUMBSTAR_LOGBOOK") if k in environment}
    words = [sys.executable, "-m", "plumbstar", "serve", *arguments(ctx)]
    text = unit_text(words, getpass.getuser(), [g for g in _SERIAL_GROUPS if g in there], kept)
    if path == "-":
        click.echo(text, nl=False)
        return
    files.write(path, text)
    name = Path(path).name
    click.echo(
        f"{path} is written. Put it in its place and start it, now and with the computer:\n\n"
        f"  sudo cp {path} /etc/systemd/system/\n"
        f"  sudo systemctl daemon-reload\n"
        f"  sudo systemctl enable --now {name}\n\n"
        f"The address and the code for the phone: sudo journalctl -u {name} -n 40"
    )
