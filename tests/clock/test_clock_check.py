"""Doubts about a clock: said when they matter, in words that name the remedy."""

from __future__ import annotations

import pytest

from plumbstar.clock import say
from plumbstar.clock.doubts import MATTERS_S, against_phone, look
from plumbstar.clock.say import length, turn
from plumbstar.sky.times import Instant

NOW = Instant.parse("2027-01-28T18:30:00Z").to_unix()
MADE = Instant.parse("2026-11-02").to_unix()


@pytest.mark.parametrize(
    ("server", "last", "jumped", "kind", "words"),
    [
        (600.0, None, 0.0, "unset", "1970-01-01 00:10 UTC, before this program was made"),
        (600.0, NOW, 99.0, "unset", "not set"),
        (NOW, NOW + 7200.0, 0.0, "behind", "the last entry in the logbook (2027-01-28 20:30"),
        (NOW, NOW - 5.0, 743.0, "jumped", "set forward by 12 min 23 s since"),
        (NOW, None, -3600.0, "jumped", "set back by 1 h since"),
    ],
)  # fmt: skip
def test_each_doubt(
    server: float, last: float | None, jumped: float, kind: str, words: str
) -> None:
    (found,) = look(server, not_before=MADE, last_entry=last, jumped_s=jumped)
    assert found.kind == kind
    assert words in say.sentence(found)
    assert "phone" in say.remedy(found)


def test_nothing_is_said_without_need() -> None:
    assert look(NOW, not_before=MADE) == ()
    assert look(NOW, not_before=MADE, last_entry=NOW + 30.0, jumped_s=3.9) == ()
    assert look(MADE, not_before=MADE) == ()


def test_a_phone_that_differs() -> None:
    # 743.2 s at the sidereal rate of 15.041 arcsec a second: 3.1 degrees.
    found = against_phone(NOW, NOW + 743.0, 0.4)
    assert found is not None
    assert found.seconds == pytest.approx(743.2)
    assert "12 min 23 s ahead of" in say.sentence(found)
    assert "3.1 degrees" in say.sentence(found)
    back = against_phone(NOW, NOW - 10.0, 0.0)
    assert back is not None
    assert "10 s behind the" in say.sentence(back)
    # What a slow way over the network can explain is not a difference.
    assert against_phone(NOW, NOW + 3.0, 3.0) is None
    assert against_phone(NOW, NOW + 4.0, 3.0) is not None
    assert against_phone(NOW, NOW + MATTERS_S - 0.01, 0.0) is None


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(4.04, "4.0 s"), (-59.4, "59 s"), (60.0, "1 min"), (743.0, "12 min 23 s"), (3600.0, "1 h"),
     (5400.0, "1 h 30 min"), (90000.0, "1 day 1 h"), (1.8e9, "57 years"), (3.2e7, "1 year")],
)  # fmt: skip
def test_lengths_in_words(seconds: float, words: str) -> None:
    assert length(seconds) == words


def test_how_far_the_sky_turns() -> None:
    assert turn(1.0) == "15 arcsec"
    assert turn(4.0) == "1 arcmin"
    assert turn(3600.0) == "15.0 degrees"
    assert turn(9 * 3600.0) == "135 degrees"
    assert turn(1e9) == "180 degrees"  # "up to": nothing is further off than half a turn
