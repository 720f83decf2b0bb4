"""What every test may count on, whatever ran before it in the same process."""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

import books
from samples import tries

# One thread for the products of small matrices, before numpy is loaded, as the program has it
# (plumbstar/cli.py): the others only wait, and take eight times the processor's time to do so.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# What Python compiles is kept, for this process and for the servers it starts: compiling anew was
# half of a server's start, and of collecting the tests.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# No test reads the logbook of whoever runs it: commands look for one unasked.
os.environ["PLUMBSTAR_LOGBOOK"] = str(Path(tempfile.gettempdir()) / "no-logbook" / "none.sqlite3")
books.copy_the_new()

# How long an example takes is the machine's affair, and what else it does. Each run draws others.
settings.register_profile("patient", deadline=None, max_examples=tries(30, 100))
settings.load_profile("patient")


#: Those that take longest, 12 s and more on a busy machine, as ``--durations`` told: begun first,
#: none of them is the last one running while the other processes have nothing left to do.
LONGEST = (
    "test_an_evening_with_a_wrong_star_and_a_slip",
    "test_told_on_the_first_screen_it_holds_through_every_restart",
    "test_nothing_is_missing_on_any_screen",
    "test_a_whole_outing_by_thumb_at_night",
    "test_small_calibration",
    "test_not_in_field_widens_the_fix_by_what_was_learnt",
    "test_encoders_fail_while_eight_phones_listen",
    "test_by_the_kit_it_stands_on_the_stop_at_the_start",
    "test_no_secret_in_what_the_server_writes",
)

#: Here a browser, a server and a telescope are processes of their own, and the machine decides who
#: runs when. A test that fails here has a second try. That it needed one is told at the end
#: ("RERUN"): a defect of the pages or of the test, to be traced, that holds up nobody else's work.
WEB = Path(__file__).parent / "web"


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """After the order was made random; a few files in one process keep the order written."""
    for item in items:
        if WEB in item.path.parents:
            item.add_marker(pytest.mark.flaky(reruns=1))
    if config.getoption("numprocesses", None) or hasattr(config, "workerinput"):
        items.sort(key=lambda item: not item.name.startswith(LONGEST))


_failed = pytest.StashKey[bool]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    report = yield
    item.stash[_failed] = report.failed or item.stash.get(_failed, False)
    return report  # type: ignore[return-value]


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item: pytest.Item) -> None:
    """A second try begins anew, and so does what comes after a failure: a server that the file
    shares has the marks of the first try on it, and could not show the same again."""
    if not item.stash.get(_failed, False) or not isinstance(item, pytest.Function):
        return
    item.stash[_failed] = False
    # What the session shares stays: the browser cannot be started twice.
    for found in item._fixtureinfo.name2fixturedefs.values():
        for fixture in found:
            if fixture.scope in ("module", "class"):
                fixture.finish(item._request)


_first_tries: list[tuple[str, str]] = []


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Why a second try was needed is told with it: it seldom comes again when looked for."""
    if report.outcome == "rerun":  # type: ignore[comparison-overlap]
        _first_tries.append((report.nodeid, report.longreprtext))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for name, why in _first_tries:
        terminalreporter.section(f"first try of {name}")
        terminalreporter.write_line("\n".join(why.splitlines()[-25:]))


@pytest.fixture(autouse=True)
def no_loop_left_running(request: pytest.FixtureRequest) -> Iterator[None]:
    """No event loop is said to be running where a test begins.

    Playwright's synchronous calls run an event loop in a coroutine of their own (a greenlet) and
    leave it in the middle: between two calls it rests, but this thread is still marked as one
    with a running loop, and ``asyncio.run`` refuses it. The mark is put back after the test.
    """
    if "driver" in request.fixturenames:
        yield
        return
    loop = asyncio._get_running_loop()
    asyncio._set_running_loop(None)
    yield
    asyncio._set_running_loop(loop)
