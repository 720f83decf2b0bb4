"""What a page is made of, packed when the server starts: one script in place of forty, styles, and
addresses with the content's own hash, so that a phone fetches them once and never asks again.

The scripts are written as modules, one idea a file, and stay so: the contract's check and the tests
read them as they are, and each can be fetched by its own name. Here their modules become functions
in one file, in the order in which a browser would run them. What a script waits for (``await
import``) is packed apart, without what the first pack has. Only the forms of import and export that
they use are understood; anything else is an error at the start, which every test meets.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

STATIC = Path(__file__).parent.parent / "static"

_IMPORT = re.compile(r'^import (\{[^}]*\}|\* as (\w+)) from "\./(\w+)\.js";$')
_AWAITED = re.compile(r"await import\(`\./(\w+)\.js(\?[^`]*)`\)")
# After code: no quote comes after it, and no string goes over a line, so it stands in none.
_REMARK = re.compile(r" // [^\"'`]*$")
_TYPE = re.compile(r" ?/\*\* @[^*]*\*/")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)  # of a style
_EXPORT = re.compile(r"^export (?:(async function|function|const|class)) (\w+)")


@dataclass(frozen=True)
class Packed:
    """Bytes at an address that changes with them."""

    path: str
    media_type: str
    plain: bytes
    squeezed: bytes

    @staticmethod
    def of(stem: str, suffix: str, media_type: str, content: bytes) -> Packed:
        name = f"/static/{stem}-{hashlib.sha256(content).hexdigest()[:16]}.{suffix}"
        return Packed(name, media_type, content, gzip.compress(content, 9, mtime=0))


@cache
def script(entry: str) -> Packed:
    """That script and all that it imports, as one."""
    return Packed.of(entry, "js", "text/javascript", joined(entry).encode())


@cache
def awaited(entry: str) -> tuple[Packed, ...]:
    """What a page with that script asks for later, each by itself."""
    first = tuple(_in_order(entry, set()))
    found = [m[1] for name in first for line in _source(name) for m in _AWAITED.finditer(line)]
    return tuple(_later(name, first) for name in dict.fromkeys(found))


@cache
def _later(name: str, first: tuple[str, ...]) -> Packed:
    """A script and what it imports beyond the ``first`` pack, whose modules it is given."""
    more = tuple(_in_order(name, set(first)))
    heads = [f"M.{n} = {{}};" for n in more]
    parts = [_as_function(n, (*first, *more)) for n in more]
    text = "\n".join(["export const given = (M) => {", *heads, *parts, f"return M.{name};", "};"])
    return Packed.of(name, "js", "text/javascript", text.encode())


@cache
def styles() -> Packed:
    text = _COMMENT.sub("", (STATIC / "page.css").read_text(encoding="utf-8"))
    lines = (line.strip() for line in text.splitlines())
    return Packed.of("page", "css", "text/css", "\n".join(x for x in lines if x).encode())


@cache
def loader() -> Packed:
    """It stands by itself, for when the script does not come."""
    bare = "\n".join(_bare(_source("loading")))
    return Packed.of("loading", "js", "text/javascript", bare.encode())


def parts(entry: str) -> dict[str, Packed]:
    """What a page with that script is made of."""
    first = {"script": script(entry), "styles": styles(), "loading": loader()}
    return first | {p.path: p for p in awaited(entry)}


def joined(entry: str) -> str:
    """One module that does what ``entry`` does. Raises ValueError for what is not understood."""
    order = tuple(_in_order(entry, set()))
    heads = ["const M = {};", *(f"M.{name} = {{}};" for name in order)]
    return "\n".join([*heads, *(_as_function(name, order) for name in order), ""])


def _source(name: str) -> list[str]:
    return (STATIC / f"{name}.js").read_text(encoding="utf-8").splitlines()


def _in_order(name: str, seen: set[str]) -> Iterator[str]:
    """As a browser runs them: what is imported first, each once (ECMA-262, 16.2.1.5)."""
    seen.add(name)
    for line in _source(name):
        m = _IMPORT.match(line)
        if m is not None and m[3] not in seen:
            yield from _in_order(m[3], seen)
    yield name


def _as_function(name: str, order: tuple[str, ...]) -> str:
    """A module as a function: what it exports becomes members of ``M.name``. Functions are there
    from its first line on, as a module's are."""
    imports: list[str] = []
    body: list[str] = []
    functions: list[str] = []
    values: list[str] = []
    ran = set(order[: order.index(name)])
    for line in _bare(_source(name)):
        if (m := _IMPORT.match(line)) is not None:
            imports.append(_imported(m, ran))
        elif (m := _EXPORT.match(line)) is not None:
            (functions if "function" in m[1] else values).append(m[2])
            body.append(line.removeprefix("export "))
        elif re.match(r"(import|export)\b", line):
            raise ValueError(f"{name}.js: the packer does not know '{line[:80]}'")
        else:
            body.append(_AWAITED.sub(lambda m: _given(m, order), line))
    given = [
        f"Object.assign(M.{name}, {{ {', '.join(x)} }});" if x else "" for x in (functions, values)
    ]
    return "\n".join(["(() => {", *imports, given[0], *body, given[1], "})();"])


def _given(m: re.Match[str], order: tuple[str, ...]) -> str:
    """What is waited for, at its own address, and given what has run by then."""
    return f"(await import(`{_later(m[1], order).path}{m[2]}`)).given(M)"


def _imported(m: re.Match[str], ran: set[str]) -> str:
    if m[2] is not None:
        return f"const {m[2]} = M.{m[3]};"
    pairs = [n.strip().partition(" as ") for n in m[1].strip("{} ").split(",")]
    if m[3] in ran:
        return f"const {{ {', '.join(f'{n}: {a or n}' for n, _, a in pairs)} }} = M.{m[3]};"
    # Two that import one another: it runs later. What it exports is called, not read, until then.
    return "\n".join(f"const {a or n} = (...x) => M.{m[3]}.{n}(...x);" for n, _, a in pairs)


def _bare(lines: list[str]) -> Iterator[str]:
    """Without comments and without what indents: no string in the scripts goes over more than one
    line (a test sees to it)."""
    inside = False
    for raw in lines:
        line = raw.strip()
        if inside or line.startswith("/*"):
            _, ended, rest = line.partition("*/")
            inside = not ended
            if rest and inside is False and not line.startswith("/*"):
                raise ValueError(f"the packer does not know code after a comment: '{line[:80]}'")
            if rest:
                yield line
        elif line and not line.startswith("//"):
            yield _REMARK.sub("", _TYPE.sub("", line))
