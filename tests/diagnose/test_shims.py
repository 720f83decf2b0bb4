"""The stop: directions by geometry, shims against brute force, and what a hidden stop then does."""

from __future__ import annotations

import itertools
import math

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar import kit as kits
from plumbstar.diagnose import shims
from plumbstar.diagnose.shims import Move
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim, Stop
from samples import tries


def kit(adding="lowers", arm=250.0, shim=((0.5, 4), (1.0, 3))):
    return Kit(
        stop=Stop(lever_arm_mm=arm, adding=adding),
        shim=tuple(Shim(thickness_mm=t, count=n) for t, n in shim),
        eyepiece=kits.example().eyepiece,
        telescope=kits.example().telescope,
    )


def at_stop(alt_reading_deg, added_mm, adding, arm, offset_deg):
    """Where the tube truly points when it bears on the stop: plane geometry, on its own.

    The axis is at the origin and the tube's bearing point at (arm, 0) in the tube's frame; the
    stop's face moves along its normal by what is added, which turns the tube about the axis.
    """
    face = np.array([arm, added_mm])
    turn = math.degrees(math.atan2(face[1], face[0]))
    return alt_reading_deg + offset_deg + (turn if adding == "raises" else -turn)


@pytest.mark.parametrize("adding", ["raises", "lowers"])
@pytest.mark.parametrize("offset", [-1.3, -0.2, 0.4, 0.9])
def test_wanted_thickness_nulls_the_stop(adding, offset):
    wanted = shims.thickness_wanted(math.radians(offset), kit(adding))
    assert at_stop(90.0, wanted, adding, 250.0, offset) == pytest.approx(90.0, abs=1e-9)
    assert (wanted > 0) == ((offset > 0) == (adding == "lowers"))


def test_a_wrong_way_is_told_by_what_the_stop_will_be_then():
    """Pieces that reach a part of the way only do not double the offset when it goes wrong."""
    p = shims.plan(math.radians(0.92), math.radians(0.06), kit(shim=((0.5, 2),)))
    wrong = at_stop(90.0, p.moved_mm, "raises", 250.0, p.offset_deg) - 90.0
    said = " ".join(shims.steps(p))
    assert f"If it is about {wrong:+.2f}° instead" in said
    assert "do not reach: +0.69° will be left" in said
    # Nearly half of it left is left, too, where there is nothing more to take out.
    none = shims.plan(
        math.radians(1.7), math.radians(0.3), kit("raises"), in_place=[Shim(1.0, 3), Shim(0.5, 2)]
    )
    assert none.moved_mm == pytest.approx(-4.0)
    assert "That does not reach: +0.78° will be left" in " ".join(shims.steps(none))


def test_an_empty_box_asks_for_pieces():
    p = shims.plan(math.radians(0.64), math.radians(0.04), kit(shim=()))
    first, then = shims.steps(p)
    assert first == "Get pieces that make about 2.8 mm together."
    assert then.startswith("Until then leave it")


@pytest.mark.parametrize("adding", ["raises", "lowers"])
def test_what_is_left_is_what_geometry_gives(adding):
    p = shims.plan(
        math.radians(0.9 if adding == "lowers" else -0.9), math.radians(0.1), kit(adding)
    )
    true = at_stop(90.0, p.moved_mm, adding, 250.0, p.offset_deg) - 90.0
    assert p.left_deg == pytest.approx(true, abs=1e-9)
    assert p.moved_mm > 0
    assert abs(p.left_deg) < 0.06


def test_a_millimetre_at_a_quarter_metre():
    """1 mm at 250 mm: atan 0.004 = 0.2292 deg."""
    p = shims.plan(math.radians(0.5), math.radians(0.05), kit())
    assert p.deg_per_mm == pytest.approx(0.229182, abs=1e-6)
    assert p.wanted_mm == pytest.approx(0.5 / 0.229182, rel=1e-3)


def brute(wanted, on_hand, in_place):
    best = None
    choices = [range(s.count + 1) for s in on_hand] + [range(s.count + 1) for s in in_place]
    for counts in itertools.product(*choices):
        n = len(on_hand)
        if sum(counts[:n]) > shims.MOST_PIECES or sum(counts[n:]) > shims.MOST_PIECES:
            continue
        total = sum(c * s.thickness_mm for c, s in zip(counts[:n], on_hand, strict=True))
        total -= sum(c * s.thickness_mm for c, s in zip(counts[n:], in_place, strict=True))
        miss = abs(total - wanted)
        if best is None or miss < best - 1e-9:
            best = miss
    return best


stacks = st.lists(
    st.builds(
        Shim,
        thickness_mm=st.sampled_from([0.1, 0.25, 0.3, 0.5, 0.8, 1.0, 1.6, 2.0]),
        count=st.integers(1, 3),
    ),
    max_size=3,
    unique_by=lambda s: s.thickness_mm,
)


@given(st.floats(-6, 6).map(lambda x: round(x, 3)), stacks, stacks)
@settings(max_examples=tries(50, 150), deadline=None)
def test_nearest_combination_against_brute_force(wanted, on_hand, in_place):
    moves = shims.best_moves(wanted, on_hand, in_place)
    total = sum(m.thickness_mm * m.count for m in moves)
    assert abs(total - wanted) == pytest.approx(brute(wanted, on_hand, in_place), abs=2e-3)


def test_all_in_place_may_be_changed_for_what_is_on_hand():
    """Three of 1.6 mm for all 5 mm in place: nearer than any smaller swap."""
    moves = shims.best_moves(-0.25, [Shim(1.6, 3)], [Shim(1.0, 1), Shim(2.0, 2)])
    assert sum(m.thickness_mm * m.count for m in moves) == pytest.approx(-0.2)


def test_fewest_pieces_where_it_makes_no_difference():
    on_hand = [Shim(thickness_mm=0.5, count=6), Shim(thickness_mm=1.0, count=3)]
    assert shims.best_moves(2.0, on_hand) == (Move(1.0, 2),)
    assert shims.best_moves(2.4, on_hand) == (Move(1.0, 2), Move(0.5, 1))
    assert shims.best_moves(2.4, on_hand, tolerance_mm=0.5) == (Move(1.0, 2),)


def test_a_swap_when_something_is_in_place():
    on_hand, there = [Shim(thickness_mm=2.0)], [Shim(thickness_mm=1.5)]
    assert shims.best_moves(0.5, on_hand, there) == (Move(2.0, 1), Move(1.5, -1))
    assert shims.best_moves(-1.4, on_hand, there) == (Move(1.5, -1),)


def test_chances_and_verdicts():
    by_night = shims.plan(math.radians(0.9), math.radians(0.1), kit())
    assert by_night.verdict == "shim by day"
    assert by_night.chances.trusting_after > by_night.chances.trusting_before + 0.3
    assert by_night.chances.solving_before > 0.95  # the fix allows for it
    assert "fix allow for it" in shims.sentence(by_night)
    by_day = shims.plan(math.radians(0.9), math.radians(0.1), kit(), after_dark=False)
    assert by_day.verdict == "shim now"
    unsure = shims.plan(math.radians(0.5), math.radians(0.4), kit())
    assert unsure.verdict == "sight one more"
    assert shims.steps(unsure)[-1].startswith("Sight one more")
    tiny = shims.plan(math.radians(0.1), math.radians(0.02), kit())
    assert tiny.verdict == "leave"
    assert "hardly anything" in shims.sentence(tiny)
    none = shims.plan(math.radians(0.9), math.radians(0.1), kit(shim=()))
    assert none.verdict == "leave"
    assert none.short_of
    assert "do not come near the 3.9 mm" in shims.sentence(none)
    # Where it would have to come down, what is on hand has nothing to do with it.
    high = shims.plan(math.radians(-7.0), math.radians(0.1), kit())
    assert high.verdict == "leave"
    assert "on hand" not in shims.sentence(high)
    # Seven degrees may be a number rather than a stop; half a degree is not.
    assert shims.steps(high)[0].startswith("See first what the altitude circle is set to")
    assert not any("entered wrong" in s for s in shims.steps(none))
    assert "30.7 mm lower, and no more can be taken out" in shims.sentence(high)
    assert "3.9 mm" in shims.steps(none)[0]


def test_taking_out_what_nobody_wrote_down():
    p = shims.plan(math.radians(-0.9), math.radians(0.1), kit())
    assert all(m.count < 0 for m in p.moves)
    assert any("take thickness out" in s for s in shims.steps(p))


@pytest.mark.parametrize(
    ("stop", "words"),
    [
        (Stop(lever_arm_mm=0.0, adding="raises"), "how long the stop's lever arm is"),
        (Stop(lever_arm_mm=250.0), "stop-direction"),
    ],
)
def test_what_the_kit_must_say(stop, words):
    k = msgspec.structs.replace(kit(), stop=stop)
    with pytest.raises(UserError) as e:
        shims.plan(math.radians(0.5), math.radians(0.1), k)
    assert words in str(e.value)


@pytest.mark.parametrize(("offset_deg", "sigma_deg"), [(80.0, 1.0), (1.0, -1.0), (1.0, math.nan)])
def test_mistakes(offset_deg, sigma_deg):
    with pytest.raises(UserError):
        shims.plan(math.radians(offset_deg), math.radians(sigma_deg), kit())


def test_plain_values():
    p = shims.plan(math.radians(0.9), math.radians(0.1), kit())
    assert msgspec.json.decode(msgspec.json.encode(p), type=shims.ShimPlan) == p


def test_shimming_mends_hidden_stops():
    """200 hidden stops, measured with their error, shimmed by the plan: what is left has the
    spread that the plan says (the re-seating added as it assumes)."""
    rng = np.random.default_rng(8)
    k, pulls = kit(shim=((0.1, 4), (0.5, 4), (1.0, 5)), adding="raises"), []
    stops = 200
    for _ in range(stops):
        hidden, sigma = rng.uniform(-1.4, -0.4), 0.12
        p = shims.plan(math.radians(hidden + rng.normal() * sigma), math.radians(sigma), k)
        left = at_stop(90.0, p.moved_mm, "raises", 250.0, hidden) - 90.0
        left += rng.normal() * math.degrees(shims.RESEATING)
        pulls.append((left - p.left_deg) / p.left_sigma_deg)
    assert abs(np.mean(np.abs(pulls) < 1) - 0.68) < 0.08 * math.sqrt(200 / stops)
    assert abs(np.mean(pulls)) < 3.5 / math.sqrt(stops)
