"""Fixtures for the page tests: a real browser, a telescope with a server, and a phone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import needs
import patience
from plumbstar.encoders.limits import Limits
from plumbstar.web.live.readings import LiveReadings

from .scope import CHROMIUM_ARGS, ROOT, Scope
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
    path = shutil.which("chromium") or shutil.which("chromium-browser")
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
    monkeypatch.setattr(LiveReadings, "limits", Limits(speed_deg_s=2000.0))


@pytest.fixture
def phone(browser: Any) -> Iterator[Any]:
    """A page of 390 x 844, touched with a thumb. Fails the test on any script error."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda e: wrong.append(str(e)))
    page.on(
        "console",
        # A lost link is reported by the browser as an error; that is what some tests do.
        lambda m: wrong.append(m.text) if m.type == "error" and "net::" not in m.text
        and "status of" not in m.text else None,
    )  # fmt: skip
    yield page
    context.close()
    assert wrong == []


def keep(page: Any, name: str, full: bool = False) -> None:
    """A screenshot, kept for whoever looks at the test run."""
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=str(ARTEFACTS / f"{name}.png"), full_page=full)
