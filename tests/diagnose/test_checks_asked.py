"""What a bench check must not be misled by: folds, counts wrong by a whole factor, slips of the
pen; and what it could have seen. Readings come from walked.py's mounts and from counters here."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from experiments import load
from plumbstar import kit as kits
from plumbstar.commands.check import parse_numbers
from plumbstar.diagnose import checks
from plumbstar.errors import UserError
from plumbstar.kit import Stop, Telescope

walked = load("walked")
KIT = kits.example()


def run(name, kit=KIT, **raw):
    plain = {k: x.tolist() if isinstance(x, np.ndarray) else x for k, x in raw.items()}
    return checks.find(name).run(plain, kit)


def number(verdict, key):
    return next(n for n in verdict.numbers if n.key == key)


class Counter:
    """An encoder of so many true counts a turn, shown by a box that believes in ``stated``."""

    def __init__(self, ratio, rng, fold=True, hit_deg=0.05):
        self.ratio, self.rng, self.fold, self.hit = ratio, rng, fold, hit_deg
        self.start = rng.uniform(0, 360)

    def at(self, turned_deg):
        shown = self.start + self.ratio * (turned_deg + self.rng.normal() * self.hit)
        return shown % 360 if self.fold else shown

    def turns(self, n):
        return [self.at(360 * i) for i in range(n + 1)]


# ---- folds --------------------------------------------------------------------------------------


@pytest.mark.parametrize("tips_deg", [-1.1, 1.1])
def test_a_stop_about_nought_is_no_whole_turn(tips_deg):
    rng = np.random.default_rng(1)
    before = (0.1 + rng.normal(0, 0.03, 3)) % 360
    after = (0.1 + tips_deg + rng.normal(0, 0.03, 3)) % 360
    v = run("stop-direction", before=before, after=after, thickness_mm=5)
    assert ("raises" in v.sentence) == (tips_deg > 0)
    assert number(v, "lever_arm_mm").value == pytest.approx(
        5 / math.tan(math.radians(1.1)), rel=0.1
    )
    again = run("stop-repeat", readings=(0.02 + rng.normal(0, 0.04, 10)) % 360)
    assert again.state == "good"


def test_what_cannot_be_is_asked_back():
    for name, raw, words in (
        ("stop-direction", {"before": [90, 90], "after": [10, 10], "thickness_mm": 5}, "set anew"),
        ("stop-repeat", {"readings": [90, 90, 19]}, "slip of the pen"),
        ("there-and-back", {"before": [10, 10], "after": [10, 140]}, "none is missing"),
        ("backlash", {"one_way": [10, 10], "other_way": [70, 70]}, "same mark"),
    ):
        with pytest.raises(UserError, match=words):
            run(name, **raw)


# ---- once round ---------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.25, 0.5, 2.0, 4.0, -1.0, -0.5])
def test_a_count_wrong_by_a_whole_factor_is_never_called_right(ratio):
    """A display that starts again at 360 comes back to itself all the same; a quarter by eye, ten
    degrees off, settles the count and the sign."""
    rng = np.random.default_rng(2)
    for _ in range(8):
        c = Counter(ratio, rng)
        readings = c.turns(4)
        alone = run("once-round", readings=readings)
        assert alone.state == "unsure"
        assert "quarter" in alone.mend
        told = run("once-round", readings=readings, quarter=c.at(90 + rng.uniform(-10, 10)))
        assert told.state == "mend"
        if ratio > 0:
            assert number(told, "ticks").value == pytest.approx(9216 * ratio, rel=0.01)
            assert f"ticks_per_turn = {str(round(9216 * ratio))[:2]}" in told.mend
        else:
            assert "wrong way" in told.sentence


def test_a_quarter_of_the_counts_that_runs_on_is_not_taken_for_more():
    c = Counter(0.25, np.random.default_rng(3), fold=False, hit_deg=0.0)
    readings = c.turns(3)
    assert run("once-round", readings=readings).state == "unsure"
    v = run("once-round", readings=readings, quarter=c.at(90))
    assert number(v, "ticks").value == pytest.approx(2304, abs=1)


def test_a_quarter_that_is_none_is_asked_back():
    c = Counter(1.0, np.random.default_rng(4))
    with pytest.raises(UserError, match="turn a quarter on"):
        run("once-round", readings=c.turns(3), quarter=c.at(45 + 22))
    # A quarter of the counts, and 90 on where 22 would be: not minus two and three quarters turns.
    with pytest.raises(UserError, match="no count makes both"):
        run("once-round", readings="12 102 192 282", quarter="102")


def test_before_the_quarter_no_count_is_given():
    """A quarter of the counts must not be printed as five quarters of them."""
    v = run("once-round", readings="12 102 192 282")
    assert [n.key for n in v.numbers] == ["over"]
    assert "+90.00° from where it began" in v.sentence
    assert "half" not in run("once-round", readings="12.0 12.1 12.0 11.9").sentence


def test_a_reading_past_360_is_of_no_display_that_folds():
    one = run("once-round", readings="12.0 371.9")
    assert "One turn agrees" in one.sentence
    quarter = run("once-round", readings="300 390 480 570")
    assert quarter.keys == (("[azimuth]", "ticks_per_turn", 2304),)


def test_both_the_way_and_the_count_wrong_is_said():
    c = Counter(-0.5, np.random.default_rng(9))
    v = run("once-round", readings=c.turns(3), quarter=c.at(93))
    assert "wrong way" in v.sentence
    assert "count of a turn is wrong, too" in v.sentence
    assert "repeat" in v.mend
    right = Counter(-1.0, np.random.default_rng(9))
    v = run("once-round", readings=right.turns(3), quarter=right.at(93))
    assert "wrong, too" not in v.sentence


def test_a_missing_reading_is_asked_for():
    c = Counter(1.0, np.random.default_rng(5), fold=False)
    readings = c.turns(5)
    del readings[3]
    with pytest.raises(UserError, match="from reading 3 to reading 4 are 2 turns"):
        run("once-round", readings=readings)
    for few in ("12.0 371.9 1091.9", "12.0 731.9 1091.9", "12.0 -348.1 -1068.1"):
        with pytest.raises(UserError, match="Is one missing there"):
            run("once-round", readings=few)
    half = [10.0, 190.02, 9.97, 190.04, 10.01]
    assert run("once-round", readings=half).state == "unsure"
    with pytest.raises(UserError, match="from reading 2 to reading 3 are two turns"):
        run("once-round", readings=half[:2] + half[3:])


def test_the_smallest_slip_that_would_have_shown_shows():
    """What is said to have been seen is seen in nine cases of ten, at the place where it is hardest
    to see; half as much mostly is not."""
    rng = np.random.default_rng(6)
    mark, found = 0.1, {1.0: 0, 0.4: 0}
    quiet = run("once-round", readings=Counter(1.0, rng, fold=False, hit_deg=0.0).turns(3))
    least = float(quiet.sentence.split("slipped by more than ")[1].split("'")[0]) / 60
    for share in found:
        for _ in range(100):
            c = Counter(1.0, rng, fold=False, hit_deg=mark)
            readings = [r + (share * least if i else 0.0) for i, r in enumerate(c.turns(3))]
            found[share] += "That is slip" in run("once-round", readings=readings).sentence
    assert found[1.0] >= 82
    assert found[0.4] < 60
    back = run("there-and-back", before=[10.0] * 3, after=[10.0] * 3)
    assert "no swing lost more than" in back.sentence


# ---- the arm ------------------------------------------------------------------------------------


def test_an_arm_that_is_wrong_is_doubted_and_a_right_one_is_not():
    kit = msgspec.structs.replace(KIT, stop=Stop(lever_arm_mm=250.0, adding="raises"))
    rng = np.random.default_rng(7)
    doubted = {200.0: 0, 250.0: 0}
    for arm in doubted:
        tip = math.degrees(math.atan2(5, arm))
        for _ in range(100):
            rows = 90 + rng.normal(0, 0.04, 3), 90 + tip + rng.normal(0, 0.04, 3)
            v = run("stop-direction", kit, before=rows[0], after=rows[1], thickness_mm=5)
            doubted[arm] += "does not fit" in v.sentence
            if v.state == "good":
                assert "would have shown" in v.sentence
    assert doubted[200.0] > 90
    assert doubted[250.0] <= 6


def test_one_reading_each_checks_no_arm_and_a_slip_of_the_pen_is_asked_back():
    v = run("stop-direction", before="0.1", after="1.53", thickness_mm="5")
    assert "Three each would check the arm" in v.sentence
    with pytest.raises(UserError, match="lever arm of 24 mm"):
        run("stop-direction", before="0.1 0.12 0.1", after="1.3 1.31 1.28", thickness_mm="0,5")
    # Also where the direction is new: how wrong the arm could be.
    v = run("stop-direction", before="0.1 0.2 0.0", after="1.25 1.35 1.3", thickness_mm="5")
    assert "between 194 and 311 mm" in v.sentence


def test_readings_written_in_whole_degrees_claim_no_more():
    """Turns that differ by a degree of rounding are no slip, and a stop that always shows 90 may
    yet move half a degree."""
    rounded = run("once-round", readings="12 371 731 1091")
    assert rounded.state == "good"
    assert "slipped by more than 2.95°" in rounded.sentence
    finer = run("once-round", readings="12.0 371.0 731.0 1091.0")
    assert "That is slip" in finer.sentence
    for readings in ("90 90 90 90", "90 91 90 90"):
        assert "cannot be told" in run("stop-repeat", readings=readings).sentence
    assert (
        run("stop-repeat", readings="90.0 90.0 90.1 90.0 90.0 90.0 90.0 90.1 90.0 90.0").state
        == "good"
    )
    assert run("stop-direction", before="90", after="91", thickness_mm="5").state == "unsure"


# ---- both sides ---------------------------------------------------------------------------------


def over_the_top(goal, mount):
    """Both readings (degrees) at which a mount of walked.py's points there."""
    a, e = walked.circles_at(goal[None], mount[None], np.array([0.0]))
    x = np.array([a[0] + math.pi, math.pi - e[0]])
    for _ in range(12):
        d, tiny = walked.points(x[:1], x[1:], mount[None])[0], 1e-6
        by = [walked.points(x[:1] + h, x[1:] + tiny - h, mount[None])[0] for h in (tiny, 0.0)]
        x = x + np.linalg.lstsq((np.array(by) - d).T / tiny, goal - d, rcond=None)[0]
    return np.degrees([a[0], e[0]]), np.degrees(x)


def test_two_faces_of_a_high_mark_allow_for_bearings_off_square():
    over = msgspec.structs.replace(KIT, telescope=Telescope(max_alt_deg=180.0))
    rng = np.random.default_rng(8)
    held = {"cone": 0, "altitude_zero": 0}
    up = math.radians(15.0)
    for _ in range(40):
        mount = np.zeros(walked.N_TERMS)
        mount[walked.A0], mount[walked.NORTH] = 0.5, math.radians(1.0)
        mount[walked.E0] = math.radians(rng.uniform(-1, 1))
        mount[walked.CONE] = math.radians(rng.uniform(-0.4, 0.4))
        mount[walked.SQUARE] = math.radians(0.2) * rng.standard_normal()
        direct, reverse = over_the_top(walked.place(np.array([2.0]), np.array([up]))[0], mount)
        hand = np.array([1 / math.cos(up), 1, 1 / math.cos(up), 1]) * 0.02
        rows = np.array([*direct, *reverse]) + rng.normal(size=(3, 4)) * hand
        keys = ("direct_az", "direct_alt", "reverse_az", "reverse_alt")
        v = run("both-sides", over, **dict(zip(keys, rows.T.tolist(), strict=True)))
        for key, at in (("cone", walked.CONE), ("altitude_zero", walked.E0)):
            n = number(v, key)
            held[key] += n.low <= math.degrees(mount[at]) <= n.high
    assert min(held.values()) >= 36


def test_an_unsettled_cone_is_not_to_be_shimmed():
    over = msgspec.structs.replace(KIT, telescope=Telescope(max_alt_deg=180.0))
    low = {"direct_alt": [1, 1.01, 1], "reverse_alt": [178, 178, 178]}
    high = {"direct_alt": [20, 20.01, 20], "reverse_alt": [159, 159, 159]}
    az = {"direct_az": [359.9, 0.1, 0.0], "reverse_az": [180, 179.9, 180.1]}
    for rows, words in ((low, "more rounds"), (high, "nearer the horizon")):
        if rows is high:
            az = {"direct_az": [0.0, 0.0, 0.0], "reverse_az": [180, 180, 180]}
        v = run("both-sides", over, **rows, **az)
        assert v.state == "unsure"
        assert words in v.mend
        assert "Shim" not in v.mend
        assert "could be there" in v.sentence
    with pytest.raises(UserError, match="stop 30° off"):
        run(
            "both-sides", over, direct_az=[100], direct_alt=[1], reverse_az=[280], reverse_alt=[120]
        )


# ---- the number's sign -------------------------------------------------------------------------


def test_a_number_that_cannot_have_moved_so_far_is_asked_back():
    with pytest.raises(UserError, match="118 times"):
        run("number-sign", before=0.3, after=30, added_mm=1)
    with pytest.raises(UserError, match="thickness of 0 mm") as e:
        run("number-sign", before=0.3, after=0.9, added_mm=0)
    assert "--" not in str(e.value)
    v = run("number-sign", before=0.3, after=1.9, added_mm=5)
    assert "Which way adding thickness tips the tube" in v.sentence


# ---- slips of the pen ---------------------------------------------------------------------------


def test_minutes_for_seconds_are_asked_back():
    with pytest.raises(UserError, match="Were these minutes"):
        run("drift-field", seconds="6.0", dec_deg=0)
    assert run("drift-field", seconds="5:58 5:59 5:57", dec_deg="0").state == "good"
    with pytest.raises(UserError, match="Check the seconds"):
        run("drift-field", seconds="3000", dec_deg="0")


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("12,0 371,9 731,8", [12.0, 371.9, 731.8]),
        ("12,0; 371,9; 731,8", [12.0, 371.9, 731.8]),
        ("12,0, 371,9, 731,8", [12.0, 371.9, 731.8]),
        ("12.0,371.9,731.8", [12.0, 371.9, 731.8]),
        ("12,372,732", [12.0, 372.0, 732.0]),
        ("12,372,732,1092", [12.0, 372.0, 732.0, 1092.0]),
        ("45,45,46,44", [45.0, 45.0, 46.0, 44.0]),
        ("0.1 0.2 0,2", [0.1, 0.2, 0.2]),
        ("12 372 732,5", [12.0, 372.0, 732.5]),
        ("-0,5 −0,25 0,1", [-0.5, -0.25, 0.1]),
    ],
)
def test_decimal_commas(text, numbers):
    check = checks.find("once-round")
    assert check.read({"readings": text})["readings"] == numbers
    words = text.replace(";", " ").split()
    typed = parse_numbers(check, tuple(words))
    assert check.read(typed)["readings"] == numbers


def test_commas_that_may_be_either_are_asked_back():
    for text in (
        "90,12",
        "90,12,90,25,90,40",
        "12,0,371,9,731,8,1091,9",
        "0,1",
        "359,0",
        "0,1,0,2",
    ):
        with pytest.raises(UserError, match="decimal comma"):
            run("there-and-back", before=text, after=text)
    v = checks.find("stop-direction").read({"before": "90", "after": "91", "thickness_mm": "2,5"})
    assert v["thickness_mm"] == 2.5


def test_a_count_four_times_too_large_is_given_to_the_count():
    """A turn that reads 1439.96 is one of four times the counts, not of 36863."""
    v = run("once-round", readings="12.0 12.1 12.0 11.9", quarter="12")
    assert v.keys == (("[azimuth]", "ticks_per_turn", 4 * KIT.azimuth.ticks_per_turn),)
    # Any other factor is as it is read.
    odd = run("once-round", readings="12 412 812 1212")
    assert odd.keys == (("[azimuth]", "ticks_per_turn", round(KIT.azimuth.ticks_per_turn / 0.9)),)
