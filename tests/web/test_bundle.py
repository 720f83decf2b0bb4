"""One script in place of forty: what the packer goes by holds for each of them."""

from __future__ import annotations

import re

import pytest

from plumbstar.web.routes import bundle

from .server_rig import asynchronous, rig

SCRIPTS = sorted(p.stem for p in bundle.STATIC.glob("*.js"))


@pytest.mark.parametrize("name", SCRIPTS)
def test_no_string_goes_over_a_line(name: str) -> None:
    """Lines that look like comments are left out, and what indents: a string would lose it."""
    for line in (bundle.STATIC / f"{name}.js").read_text("utf-8").splitlines():
        assert line.count("`") % 2 == 0, line
        assert not line.endswith("\\"), line


@pytest.mark.parametrize("entry", ["app", "pair", "missingbook"])
def test_each_module_is_there_once_after_what_it_imports(entry: str) -> None:
    text = bundle.joined(entry)
    order = re.findall(r"^M\.(\w+) = \{\};$", text, re.MULTILINE)
    assert order[-1] == entry
    assert len(order) == len(set(order))
    assert text.count("(() => {\n") >= len(order)
    assert not re.search(r"^\s*(import|export)\b", text, re.MULTILINE)
    # Each name that is taken from a module is given by it.
    given: dict[str, set[str]] = {name: set() for name in order}
    for m in re.finditer(r"Object\.assign\(M\.(\w+), \{ (.*) \}\);", text):
        given[m[1]] |= set(re.findall(r"\w+", m[2]))
    taken = re.findall(r"^const \{ (.*) \} = M\.(\w+);$", text, re.MULTILINE)
    assert len(taken) > 3
    for names, module in taken:
        assert set(re.findall(r"(\w+):", names)) <= given[module], module


def test_what_comes_later_is_packed_apart_and_given_what_has_run() -> None:
    first = bundle.joined("app")
    (rest,) = bundle.awaited("app")
    text = rest.plain.decode()
    assert f"(await import(`{rest.path}?${{tries}}`)).given(M)" in first
    here, later = (set(re.findall(r"^M\.(\w+) = \{\};$", t, re.MULTILINE)) for t in (first, text))
    assert {"log", "mend", "seenlog", "rest"} <= later
    assert not here & later
    assert {"parts", "store", "find"} <= here
    assert rest.path in bundle.parts("app")
    # Its address is part of the first pack: who has the old one asks for the old other one.
    assert not re.search(r"^\s*import\b", text, re.MULTILINE)


def test_what_the_packer_does_not_know_is_an_error(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(bundle, "STATIC", tmp_path)
    unknown = ("export default 1;", 'import x from "./b.js";', "export let a = 1;", "export { a };")
    for line in unknown:
        (tmp_path / "a.js").write_text(f"{line}\n")
        with pytest.raises(ValueError, match="packer does not know"):
            bundle.joined("a")
    (tmp_path / "a.js").write_text("/* one\n two */ run();\n")
    with pytest.raises(ValueError, match="after a comment"):
        bundle.joined("a")


@asynchronous
async def test_addresses_change_with_what_is_there_and_are_kept_for_ever(tmp_path):
    async with rig(tmp_path) as r:
        page = await r.client.get("/")
        address = bundle.script("app").path
        assert f'src="{address}"' in page.text
        got = await r.client.get(address, headers={"accept-encoding": "gzip"})
        assert got.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert got.headers["vary"] == "Accept-Encoding"
        plain = await r.client.get(address, headers={"accept-encoding": "identity"})
        assert "content-encoding" not in plain.headers
        assert plain.text == got.text == bundle.joined("app")
        # The page itself is asked for each time, and is not sent again.
        tag = page.headers["etag"]
        again = await r.client.get("/", headers={"if-none-match": tag})
        assert (again.status_code, again.content) == (304, b"")
        assert (await r.client.get("/", headers={"if-none-match": '"old"'})).status_code == 200
        # Another content's address is nowhere: a page that is half of an older program reloads.
        assert (await r.client.get(f"{address[:-19]}{'0' * 16}.js")).status_code == 404
    assert bundle.Packed.of("a", "js", "", b"1").path != bundle.Packed.of("a", "js", "", b"2").path
