"""The manual against the program: no key, command or option undocumented, every example run.

After a change of wording, ``python tests/test_docs.py`` rewrites the output of the examples in
docs/commands.md from what the program now says; read the difference before committing it.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import shutil
import sys
from pathlib import Path

import click
import msgspec
import pytest

from plumbstar import cli, kit
from plumbstar.kit import file
from plumbstar.mount.terms import TERMS

DOCS = Path(__file__).parent.parent / "docs"
BLOCK = re.compile(r"(```console\n)(.*?)(```)", re.DOTALL)
NUMBER = re.compile(r"[-+−]?\d+(?:\.\d+)?")


def page(name: str) -> str:
    return (DOCS / name).read_text(encoding="utf-8")


def sections(text: str) -> dict[str, str]:
    """Heading of the second level -> what stands under it."""
    parts = re.split(r"^## (.+)$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def run(line: str) -> str:
    """What a person would see on typing the line, output and errors together."""
    words = shlex.split(line)
    assert words[0] == "plumbstar", f"only plumbstar commands may be shown: {line}"
    out, argv, code = io.StringIO(), sys.argv, 0
    sys.argv = words
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            cli.main()
    except SystemExit as e:
        code = e.code if isinstance(e.code, int) else 2
    finally:
        sys.argv = argv
    assert code in (0, 1), f"{line}: exit {code}\n{out.getvalue()}"
    return out.getvalue()


def lines_of(block: str) -> list[tuple[str, str]]:
    """(command, the output shown) of one console block."""
    parts = re.split(r"^\$ (.+)$", block, flags=re.MULTILINE)
    assert not parts[0].strip(), "a console block starts with a command"
    return [(c, o.strip("\n")) for c, o in zip(parts[1::2], parts[2::2], strict=True)]


def trimmed(output: str) -> str:
    return "\n".join(row.rstrip() for row in output.strip("\n").split("\n"))


def same(shown: str, got: str) -> bool:
    """Equal, but for one unit in the last place of a number (another processor's rounding)."""
    if NUMBER.sub("#", shown).split() != NUMBER.sub("#", got).split():
        return False
    for a, b in zip(NUMBER.findall(shown), NUMBER.findall(got), strict=True):
        unit = 10.0 ** -len(a.partition(".")[2])
        x, y = (float(n.replace("−", "-")) for n in (a, b))
        if abs(x - y) > (1.01 * unit if "." in a else 0.0):
            return False
    return True


def test_the_examples_give_what_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copy(DOCS / "evening.csv", tmp_path)
    shutil.copy(DOCS / "own.csv", tmp_path)
    shutil.copy(DOCS / "comets.txt", tmp_path)
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(tmp_path / "logbook.sqlite3"))
    monkeypatch.chdir(tmp_path)
    ran = 0
    for _, block, _ in BLOCK.findall(page("commands.md")):
        for command, shown in lines_of(block):
            got = trimmed(run(command))
            assert same(shown, got), f"$ {command}\n\nshown:\n{shown}\n\ngot:\n{got}"
            ran += 1
    assert ran >= 8


def test_the_comparison_sees_a_changed_number_and_a_changed_word() -> None:
    assert same("9 in 10, 0.88°", "9 in 10, 0.89°")
    assert not same("9 in 10, 0.88°", "8 in 10, 0.88°")
    assert not same("9 in 10, 0.88°", "9 in 10, 0.90°")
    assert not same("push right", "push left")


def test_the_csv_shown_is_the_file_used() -> None:
    (shown,) = re.findall(r"```csv\n(.*?)```", page("commands.md"), re.DOTALL)
    assert shown == page("evening.csv")


#: A file as the manual names it: with its folder, and it may be a test in it.
FILE = re.compile(r"`(?:python )?((?:[\w.-]+/)+[\w.-]+\.(?:py|js|csv|ts|json|toml|svg))[` :]")


def test_every_file_and_page_named_exists() -> None:
    root = DOCS.parent
    rooms = ("src", "tests", "design", "bench", "tools", "docs")
    files = [f"/{f.relative_to(root)}" for room in rooms for f in (root / room).rglob("*.*")]
    named = 0
    for path in [*sorted(DOCS.glob("*.md")), root / "README.md"]:
        text = path.read_text(encoding="utf-8")
        for name in FILE.findall(text):
            assert any(f.endswith(f"/{name}") for f in files), f"{path.name}: {name}"
            named += 1
        for link in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text):
            if not link.startswith("http"):
                assert (path.parent / link).exists(), f"{path.name}: {link}"
    assert named > 80, "the pattern finds them"


def test_every_test_named_exists() -> None:
    """In the last cell of the rows of attacks, without its first word; elsewhere by its name."""
    there = {
        n
        for f in (DOCS.parent / "tests").rglob("test_*.py")
        for n in re.findall(r"def test_(\w+)", f.read_text(encoding="utf-8"))
    }
    attacks = re.findall(r"\| `(\w+)` \|$", page("security.md").split("\n## ")[0], re.MULTILINE)
    named = [
        n
        for p in DOCS.glob("*.md")
        for n in re.findall(r"\btest_(\w+)\b(?!\.py)", p.read_text(encoding="utf-8"))
    ]
    assert len(attacks) > 25
    assert len(named) > 25
    assert sorted({*attacks, *named} - there) == []


@pytest.mark.parametrize("name", list(cli.COMMANDS))
def test_every_command_and_option_is_documented(name: str) -> None:
    text = page("commands.md")
    assert name in sections(text), f"docs/commands.md has no heading '## {name}'"
    shared = text.split("\n## ")[0]

    def check(command: click.Command, where: str) -> None:
        for p in command.params:
            if isinstance(p, click.Option):
                long = max(p.opts, key=len)
                told = re.search(rf"`{re.escape(long)}\b", where)
                assert told, f"docs/commands.md, '## {name}': {long} is not documented"
        if isinstance(command, click.Group):
            for sub in command.list_commands(click.Context(command)):
                assert f"`{sub}`" in where, f"docs/commands.md: '{name} {sub}' is not documented"
                inner = command.get_command(click.Context(command), sub)
                assert inner is not None
                check(inner, where)

    command = cli.group.get_command(click.Context(cli.group), name)
    assert command is not None
    own = sections(text)[name]
    # The six of this page may lean on its table of shared options; the others name all of theirs.
    check(command, own + shared if "```console" in own else own)


def keys_of_the_code() -> dict[str, tuple[str, str]]:
    """Full key -> (default, bounds) as docs/kit.md has to give them."""
    out = {}
    for table, record in file.TABLES.items():
        for f in msgspec.structs.fields(record):
            if f.name in file.TABLES:
                continue  # a table of its own
            key = f"{table}.{f.name}" if table else f.name
            if f.default is msgspec.NODEFAULT:
                default = "required"
            elif isinstance(f.default, bool):
                default = str(f.default).lower()
            elif isinstance(f.default, str):
                default = f'"{f.default}"'
            elif isinstance(f.default, tuple):
                default = json.dumps(f.default)
            else:
                default = "none" if f.default is None else f"{f.default:g}"
            low, high = file.BOUNDS.get(key, (None, None))
            out[key] = (default, "" if low is None else f"{low:.8g} to {high:.8g}")
    return out


def test_every_key_of_the_kit_is_documented_with_its_default_and_bounds() -> None:
    told = {}
    for heading, body in {"": page("kit.md").split("\n## ")[0], **sections(page("kit.md"))}.items():
        table = heading.strip("[]` ")
        for row in re.findall(r"^\| `([a-z_]+)` \|(.+)\|$", body, re.MULTILINE):
            key = f"{table}.{row[0]}" if table != "top level" else row[0]
            assert key not in told, f"docs/kit.md tells of '{key}' twice"
            cells = [c.strip() for c in row[1].split("|")]
            assert len(cells) == 4, f"docs/kit.md, '{key}': meaning, unit, default, bounds"
            told[key] = (cells[2].strip("`"), cells[3])
    code = keys_of_the_code()
    assert set(told) == set(code)
    for key, (default, bounds) in code.items():
        assert told[key][0] == default, f"default of {key}"
        if bounds:
            assert told[key][1] == bounds, f"bounds of {key}"


def test_the_example_kit_uses_only_documented_keys_and_kit_md_shows_how_to_get_it() -> None:
    assert "plumbstar kit --new" in page("kit.md")
    for key in re.findall(r"^#? ?([a-z_]+) = ", kit.example_text(), re.MULTILINE):
        assert f"`{key}`" in page("kit.md"), key


def test_every_term_of_the_mount_has_its_convention() -> None:
    text = page("conventions.md").casefold()
    for term in TERMS:
        words = term.split("_")
        assert all(w in text for w in words), term


@pytest.mark.parametrize(
    "name",
    ["README.md", "commands.md", "conventions.md", "first-night.md", "kit.md", "method.md"],
)
def test_links_lead_somewhere(name: str) -> None:
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page(name)):
        assert (DOCS / target).exists(), f"docs/{name} links to {target}"


def rewrite() -> None:
    """Put the program's present output into docs/commands.md."""
    import tempfile

    path = DOCS / "commands.md"
    text = page("commands.md")
    with tempfile.TemporaryDirectory() as scratch:
        shutil.copy(DOCS / "evening.csv", scratch)
        shutil.copy(DOCS / "own.csv", scratch)
        shutil.copy(DOCS / "comets.txt", scratch)
        os.environ["PLUMBSTAR_LOGBOOK"] = str(Path(scratch) / "logbook.sqlite3")
        os.chdir(scratch)

        def filled(m: re.Match[str]) -> str:
            rows = [f"$ {c}\n{trimmed(run(c))}\n" for c, _ in lines_of(m[2])]
            return m[1] + "\n".join(rows) + m[3]

        path.write_text(BLOCK.sub(filled, text), encoding="utf-8")
        os.chdir("/")


if __name__ == "__main__":
    rewrite()
