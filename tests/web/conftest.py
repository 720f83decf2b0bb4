"""Fixtures for the page tests: a real browser, a telescope with a server, and a phone."""

from __future__ import annotations

import urllib.parse
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import needs
import patience
from plumbstar.encoders.limits import Limits
from plumbstar.web.live.readings import LiveReadings

from .scope import CHROMIUM_ARGS, ROOT, Scope, chromium
from .server_process import Server

ARTEFACTS = ROOT / ".artefacts"


@pytest.fixture(scope="session")
def driver() -> Iterator[Any]:
    """What drives browsers. One for the whole run: it will not be started twice."""
    api = needs.module("playwright.sync_api")
    api.expect.set_options(timeout=patience.BROWSER_MS)
    with api.sync_playwright() as p:
        yield p


@pytest.fixture(scope="session")
def browser(driver: Any) -> Iterator[Any]:
    """Chromium. Skipped only where it is not installed."""
    path = chromium()
    if path is None:
        pytest.skip("no chromium on this machine: the pages are tested in a real browser only")
    found = driver.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
    yield found
    found.close()


@pytest.fixture(params=["quick"])
def scope(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Scope]:
    """A telescope and a server on this computer; parametrized with "human", at a human's speed."""
    s = Scope(tmp_path, quick=request.param == "quick")
    try:
        s.serve()
        yield s
    finally:
        s.close()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Not started yet; killed at the end if it still runs."""
    s = Server(tmp_path)
    yield s
    if s.process is not None and s.process.poll() is None:
        s.kill()


@pytest.fixture
def quick_hands(monkeypatch: pytest.MonkeyPatch) -> None:
    """Faster than the usual hand, which would make of quick tests a slip."""
    any_hand(monkeypatch)


def any_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """No push is too fast, and no tap too soon after it."""
    monkeypatch.setattr(LiveReadings, "limits", Limits(speed_deg_s=2000.0))
    monkeypatch.setattr(LiveReadings, "rest_deg", 1e9)


@pytest.fixture
def phone(browser: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    """A page of 390 x 844, touched with a thumb. Fails the test on any script error.

    Beginning a page costs the browser a second of processor time, three times what a visit costs.
    So one serves all tests, emptied after each; ``own_page`` gives a test a page of its own, for
    what cannot be taken back: scripts put in before the page's, its clock, permissions.
    """
    own = request.node.get_closest_marker("own_page") is not None
    page = _new_phone(browser) if own else request.getfixturevalue("shared_phone")()
    wrong: list[str] = []
    listeners = {
        "pageerror": lambda e: wrong.append(str(e)),
        # A lost link is reported by the browser as an error; that is what some tests do.
        "console": lambda m: wrong.append(m.text) if m.type == "error" and "net::" not in m.text
        and "status of" not in m.text else None,
    }  # fmt: skip
    for what, heard in listeners.items():
        page.on(what, heard)
    yield page
    for what, heard in listeners.items():
        page.remove_listener(what, heard)
    if own:
        page.context.close()
    else:
        _emptied(page)
    assert wrong == []


def _new_phone(browser: Any) -> Any:
    return browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    ).new_page()


@pytest.fixture(scope="session")
def shared_phone(browser: Any) -> Callable[[], Any]:
    """The page that tests share; another one should it be gone."""
    kept: list[Any] = []

    def page() -> Any:
        if not kept or kept[-1].is_closed():
            kept.append(_new_phone(browser))
        return kept[-1]

    return page


def _emptied(page: Any) -> None:
    """As it was before its first address: nothing stored, nothing held back, no link cut."""
    if page.is_closed():
        return
    page.unroute_all(behavior="ignoreErrors")
    page.context.set_offline(False)
    page.context.clear_cookies()
    if page.url.startswith("http"):
        where = urllib.parse.urlsplit(page.url)
        page.goto("about:blank")  # first, so that nothing is stored by the page as it goes
        page.context.new_cdp_session(page).send(
            "Storage.clearDataForOrigin",
            {"origin": f"{where.scheme}://{where.netloc}", "storageTypes": "all"},
        )
    else:
        page.goto("about:blank")


def keep(page: Any, name: str, full: bool = False) -> None:
    """A screenshot, kept for whoever looks at the test run."""
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=str(ARTEFACTS / f"{name}.png"), full_page=full)
