"""Any bytes at all, and well-formed input spoilt: refused in the one clear way or taken."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuzzing import INPUTS, SEEDS, harmless
from samples import tries

#: Photographs are decoded and names looked up at length: fewer of those.
EXAMPLES = {"photograph": 60, "name": 80, "search": 60}


def most(what: str) -> int:
    long = EXAMPLES.get(what, 150)
    # Of a spoilt logbook hardly one in a hundred is taken: all of them, or none would be.
    return long if what == "imported_json" else tries(long // 2, long)


@pytest.mark.parametrize("what", INPUTS)
def test_any_bytes(what: str) -> None:
    @settings(
        max_examples=most(what),
        deadline=None,
        derandomize=True,
        database=None,
    )
    @given(st.one_of(st.binary(max_size=300), st.text(max_size=120).map(str.encode)))
    def any_bytes(data: bytes) -> None:
        harmless(INPUTS[what], data)

    any_bytes()


def spoilt(seed: bytes, rng: random.Random) -> bytes:
    """One to four small changes: a byte changed, left out, doubled, or a stretch moved."""
    data = bytearray(seed)
    for _ in range(rng.randint(1, 4)):
        i = rng.randrange(len(data) + 1)
        kind = rng.randrange(5)
        if kind == 0 and i < len(data):
            data[i] = rng.randrange(256)
        elif kind == 1:
            del data[i : i + rng.randint(1, 8)]
        elif kind == 2:
            data[i:i] = data[i : i + rng.randint(1, 30)]
        elif kind == 3:
            data[i:i] = rng.choice(
                (b"\0", b"-", b"1e999", b"nan", b"\xff", b"99999999999999999999")
            )
        else:
            data[i:i] = rng.choice((b",", b"\n", b'"', b"[", b"=", b"\xe2\x88\x92", b"''"))
    return bytes(data)


@pytest.mark.parametrize("what", INPUTS)
def test_well_formed_input_spoilt(what: str) -> None:
    rng = random.Random(what)
    taken = 0
    for seed in SEEDS[what]:
        harmless(INPUTS[what], seed)
        for _ in range(most(what)):
            taken += harmless(INPUTS[what], spoilt(seed, rng))
    # Seeds stay close enough to the form that some spoilt ones still pass: the fuzz goes deep.
    assert taken > 0
