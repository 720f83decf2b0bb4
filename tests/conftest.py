"""What every test may count on, whatever ran before it in the same process."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest
from hypothesis import settings

# How long an example takes is the machine's affair, and what else it does.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")


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
