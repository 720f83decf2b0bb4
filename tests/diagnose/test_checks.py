"""Bench checks: arithmetic against outside values and geometry, verdicts against hidden causes."""

from __future__ import annotations

import math
import re

import msgspec
import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.diagnose import checks
from plumbstar.diagnose.checks.check import Input
from plumbstar.diagnose.checks.verdict import Verdict
from plumbstar.errors import UserError
from plumbstar.kit import Circle, Kit, Stop, Telescope
from plumbstar.mount import kinematics
from plumbstar.simulate.mounts import terms_from_deg

KIT = kits.example()


def run(name, kit=KIT, **raw):
    plain = {k: x.tolist() if isinstance(x, np.ndarray) else x for k, x in raw.items()}
    return checks.find(name).run(plain, kit)


def number(verdict, key):
    return next(n for n in verdict.numbers if n.key == key)


# ---- descriptions -------------------------------------------------------------------------------


@pytest.mark.parametrize("check", checks.CHECKS, ids=lambda c: c.id)
def test_descriptions_are_whole(check):
    sent = msgspec.json.encode(check.inputs)
    assert msgspec.json.decode(sent, type=tuple[Input, ...]) == check.inputs
    assert check.title
    assert check.steps
    assert check.needs
    assert len({i.key for i in check.inputs}) == len(check.inputs)


def test_the_sun_comes_first_where_a_tube_is_pointed_by_day():
    for name in ("both-sides", "backlash"):
        assert "The Sun first" in checks.find(name).warning
    assert "opposite side of the sky" in checks.find("both-sides").warning


def test_find():
    assert checks.find("once").id == "once-round"
    for bad in ("", "stop", "nonsense"):  # "stop" fits two
        with pytest.raises(UserError) as e:
            checks.find(bad)
        assert "stop-repeat" in str(e.value)


@pytest.mark.parametrize(
    ("name", "raw", "words"),
    [
        ("once-round", {}, "nothing for “the azimuth reading at the mark"),
        ("drift-field", {"seconds": "240", "dec_deg": "88"}, "“the star's declination”: 88°"),
        ("once-round", {"readings": "10"}, "at least 2"),
        ("once-round", {"readings": "10 x"}, "a number in deg"),
        ("once-round", {"readings": "10 nan"}, "-100000 to 100000"),
        ("once-round", {"readings": "10 11", "turned": "up"}, "right or left"),
        ("once-round", {"readings": "10 11", "mark_arcmin": "1 2"}, "one"),
        ("once-round", {"readngs": "10 11"}, "readings"),
        ("drift-field", {"seconds": "240", "dec_deg": "89"}, "-75 to 75"),
        ("drift-field", {"seconds": "240", "dec_deg": "0", "eyepiece": "5 mm"}, "eyepiece"),
        ("there-and-back", {"before": "1 2", "after": "1"},
         "2 readings before, 1 reading after. Wanted: as many of each"),
        ("both-sides", {"direct_az": "1", "direct_alt": "1", "reverse_az": "1",
                        "reverse_alt": "179"}, "pass over the top"),
    ],
)  # fmt: skip
def test_mistakes(name, raw, words):
    with pytest.raises(UserError) as e:
        run(name, **raw)
    assert words in str(e.value)


def test_verdicts_are_plain_values():
    v = run("stop-direction", before="90.0", after="90.7", thickness_mm="3")
    assert msgspec.json.decode(msgspec.json.encode(v), type=Verdict) == v


# ---- once round ---------------------------------------------------------------------------------


def turns(rng, n, ratio=1.0, slip=0.0, fold=False, mark_deg=0.1, kit=KIT):
    """Readings at a mark hit within ``mark_deg``; a circle that turns ``ratio``; slip each turn."""
    step = kit.azimuth.resolution_deg
    start, lost = rng.uniform(0, 360), 0.0
    out = []
    for i in range(n + 1):
        lost += rng.normal() * slip if i else 0.0
        reading = start + 360.0 * ratio * i + lost + rng.normal() * mark_deg
        reading = round(reading / step) * step
        out.append(reading % 360.0 if fold else reading)
    return out


@pytest.mark.parametrize("fold", [False, True])
def test_once_round_sound_wrong_count_and_slip(fold):
    rng = np.random.default_rng(1)
    states = {"sound": [], "count": [], "slip": []}
    for _ in range(60):
        sound = turns(rng, 3, fold=fold)
        # A display that starts again at 360 is believed with a quarter turn by eye only.
        eye = {"quarter": sound[0] + 90 + rng.uniform(-8, 8)} if fold else {}
        states["sound"].append(run("once-round", readings=sound, **eye))
        count = turns(rng, 3, ratio=9216 / 9000, fold=fold)
        eye = {"quarter": count[0] + 92 + rng.uniform(-8, 8)} if fold else {}
        states["count"].append(run("once-round", readings=count, **eye))
        states["slip"].append(run("once-round", readings=turns(rng, 4, slip=2.0, fold=fold)))
    assert np.mean([v.state == "good" for v in states["sound"]]) > 0.9
    assert np.mean(["not slipping" in v.sentence for v in states["count"]]) > 0.95
    assert np.mean(["slip." in v.sentence for v in states["slip"]]) > 0.8
    # The kit counts 9216; the disc makes 9216 x 9216 / 9000 counts.
    ticks = [number(v, "ticks") for v in states["count"]]
    true = 9216 * 9216 / 9000
    assert np.mean([n.low <= true <= n.high for n in ticks]) > 0.9
    assert "ticks_per_turn = 94" in states["count"][0].mend


def test_once_round_the_wrong_way():
    v = run("once-round", readings=[100.0, -260.1, -620.0])
    assert "wrong way" in v.sentence
    assert "reversed = true" in v.mend
    left = run("once-round", readings=[100.0, -260.0, -620.0, -980.0], turned="left")
    assert left.state == "good"


def test_once_round_for_a_paper_circle():
    v = run("once-round", Kit(azimuth=Circle(read_to_deg=0.2)), readings=[10, 372, 734, 1096])
    assert "wrong scale" in v.mend


# ---- there and back, the stop, play -------------------------------------------------------------


def test_there_and_back():
    rng = np.random.default_rng(2)
    good, bad = [], []
    for _ in range(80):
        a = rng.normal(50, 0.1, 4)
        good.append(run("there-and-back", before=a, after=a + rng.normal(0, 0.1, 4)).state)
        bad.append(run("there-and-back", before=a, after=a + rng.normal(0, 1.0, 4)).state)
    assert np.mean([s == "good" for s in good]) > 0.9
    assert np.mean([s == "mend" for s in bad]) > 0.9
    folded = run("there-and-back", before=[359.95, 359.9, 0.0], after=[0.02, 359.98, 0.05])
    assert folded.state == "good"


def test_ten_readings_are_not_asked_for_ten_readings():
    ten = ["90.1", "90.0", "90.05", "89.95", "90.1", "90", "90.02", "90.08", "89.9", "90.0"]
    assert "ten times more" in checks.find("stop-repeat").run({"readings": ten}, Kit()).mend
    few = checks.find("stop-repeat").run({"readings": ten[:4]}, Kit())
    assert "ten times or more" in few.mend
    assert all(len(w) < 9 for n in few.numbers for w in re.findall(r"[\d.]+", str(n)))


def test_stop_repeat():
    rng = np.random.default_rng(3)
    tight = [run("stop-repeat", readings=rng.normal(90, 0.03, 10)).state for _ in range(50)]
    loose = [run("stop-repeat", readings=rng.normal(90, 0.4, 10)).state for _ in range(50)]
    creep = run("stop-repeat", readings=90 + 0.06 * np.arange(10) + rng.normal(0, 0.02, 10))
    assert np.mean([s == "good" for s in tight]) > 0.9
    assert np.mean([s == "mend" for s in loose]) > 0.95
    assert "creeps" in creep.sentence
    few = run("stop-repeat", readings=[90.0, 90.06, 89.95])
    assert few.state == "unsure"
    spread = number(run("stop-repeat", readings=[90.0, 90.2, 89.9, 90.1]), "spread")
    assert spread.value == pytest.approx(np.std([90.0, 90.2, 89.9, 90.1], ddof=1))


def test_backlash():
    rng = np.random.default_rng(4)
    states = {0.0: [], 0.5: []}
    for play in states:
        for _ in range(60):
            a, b = rng.normal(0.02, 0.03, 4), rng.normal(play, 0.03, 4)
            states[play].append(run("backlash", one_way=a % 360, other_way=b % 360))
    assert np.mean([v.state == "good" for v in states[0.0]]) > 0.75
    assert np.mean([v.state == "mend" for v in states[0.5]]) > 0.95
    play = [number(v, "play") for v in states[0.5]]
    assert np.mean([n.low < 0.48 < n.high for n in play]) > 0.88
    assert run("backlash", one_way=[10.0], other_way=[10.5]).state == "unsure"


# ---- the stop's direction -----------------------------------------------------------------------


@pytest.mark.parametrize("adding", ["raises", "lowers"])
def test_stop_direction_and_arm(adding):
    """A stop at 250 mm, 5 mm added: atan(5 / 250) = 1.1458 deg, one way or the other."""
    rng = np.random.default_rng(5)
    tip = math.degrees(math.atan(5 / 250)) * (1 if adding == "raises" else -1)
    covered = 0
    for _ in range(100):
        before, after = 90 + rng.normal(0, 0.04, 3), 90 + tip + rng.normal(0, 0.04, 3)
        v = run("stop-direction", before=before, after=after, thickness_mm=5)
        assert f"Adding thickness {adding} the tube" in v.sentence
        assert f'adding = "{adding}"' in v.mend
        arm = number(v, "lever_arm_mm")
        covered += arm.low < 250 < arm.high
    assert covered > 88


def test_stop_direction_doubts():
    small = run("stop-direction", before=[90.0, 90.05], after=[90.04, 90.01], thickness_mm=1)
    assert small.state == "unsure"
    other_arm = msgspec.structs.replace(KIT, stop=Stop(lever_arm_mm=120.0, adding="raises"))
    v = run("stop-direction", other_arm, before=[90, 90.01, 90], after=[91.1, 91.2, 91.15],
            thickness_mm=5)  # fmt: skip
    assert "120 mm, which does not fit" in v.sentence
    right = msgspec.structs.replace(KIT, stop=Stop(lever_arm_mm=250.0, adding="raises"))
    v = run("stop-direction", right, before=[90, 90.01, 90], after=[91.1, 91.2, 91.15],
            thickness_mm=5)  # fmt: skip
    assert v.state == "good"


# ---- both sides ---------------------------------------------------------------------------------


def reverse_and_direct(terms, az, alt):
    """Both readings at which an exact mount points at a place: the second by Newton past 90."""
    target = kinematics.unit(np.asarray(az), np.asarray(alt))
    direct = kinematics.reading_of(target, terms)
    guess = direct + np.array([math.pi, 0.0])
    guess[1] = math.pi - direct[1]
    for _ in range(20):
        d, _ = kinematics.direction_jacobian(guess, terms)
        step = np.empty((3, 2))
        for k in range(2):
            h = np.zeros(2)
            h[k] = 1e-6
            step[:, k] = (
                kinematics.direction(guess + h, terms) - kinematics.direction(guess - h, terms)
            ) / 2e-6
        guess = guess + np.linalg.lstsq(step, target - d, rcond=None)[0]
    assert np.allclose(kinematics.direction(guess, terms), target, atol=1e-9)
    return np.degrees(direct), np.degrees(guess)


@pytest.mark.parametrize(("cone", "stop"), [(0.25, 0.9), (-0.4, -1.3), (0.02, 0.0)])
def test_both_sides_finds_cone_and_stop_whatever_the_lean(cone, stop):
    over = msgspec.structs.replace(KIT, telescope=Telescope(max_alt_deg=180.0))
    terms = terms_from_deg(
        azimuth_zero=33.0, altitude_zero=stop, lean_north=1.1, lean_west=-0.9, cone=cone, droop=0.08
    )
    direct, reverse = reverse_and_direct(terms, math.radians(200.0), math.radians(4.0))
    rng = np.random.default_rng(6)
    rows = {"direct_az": [], "direct_alt": [], "reverse_az": [], "reverse_alt": []}
    for _ in range(5):
        for key, x in zip(rows, (*direct, *reverse), strict=True):
            rows[key].append(x + rng.normal() * 0.01)
    v = run("both-sides", over, **rows)
    assert number(v, "cone").value == pytest.approx(cone, abs=0.015)
    assert number(v, "altitude_zero").value == pytest.approx(stop, abs=0.015)
    assert v.state == ("good" if abs(cone) < 0.1 else "mend")
    if v.state == "mend":
        assert ("to the left" in v.mend) == (cone > 0)
    exact = run("both-sides", over, **{k: [float(x)] for k, x in zip(rows, (*direct, *reverse), strict=True)})  # fmt: skip # noqa: E501
    assert number(exact, "cone").value == pytest.approx(cone, abs=2e-4)
    assert number(exact, "altitude_zero").value == pytest.approx(stop, abs=2e-4)
    assert exact.state == "unsure"


def test_both_sides_wants_the_reading_past_ninety():
    over = msgspec.structs.replace(KIT, telescope=Telescope(max_alt_deg=180.0))
    with pytest.raises(UserError, match="over the top"):
        run("both-sides", over, direct_az=[10], direct_alt=[4], reverse_az=[190], reverse_alt=[4])


# ---- drift --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("seconds", "dec", "arcmin"), [(240, 0, 60.16), (240, 40, 46.09)])
def test_drift_field_values(seconds, dec, arcmin):
    """The sidereal rate is 15.041 arcsec a second (IAU, memory); by arithmetic."""
    v = run("drift-field", seconds=[seconds], dec_deg=dec)
    assert number(v, "field_arcmin").value == pytest.approx(arcmin, abs=0.02)
    assert v.state == "unsure"


@pytest.mark.parametrize(("dec", "field"), [(0.0, 3.0), (60.0, 1.0), (70.0, 3.0)])
def test_drift_formula_against_the_small_circle(dec, field):
    """The chord of a small circle, exactly: sin(D/2) = cos dec sin(H/2). Under 0.1 %."""
    hours = 2 * math.asin(math.sin(math.radians(field / 2)) / math.cos(math.radians(dec)))
    seconds = math.degrees(hours) * 3600 / 15.041
    v = run("drift-field", seconds=[seconds], dec_deg=dec)
    assert number(v, "field_arcmin").value / 60 == pytest.approx(field, rel=1e-3)


def test_drift_field_against_the_kit():
    """The example kit's 32 mm has a 38 mm stop on 1456 mm: 1.4952 deg."""
    seconds = 1.4952 * 3600 / 15.041
    v = run("drift-field", seconds=[seconds + x for x in (-1, 0, 1)], dec_deg=0, eyepiece="32")
    assert v.state == "good"
    assert number(v, "field_stop_mm").value == pytest.approx(38.0, abs=0.05)
    v = run("drift-field", seconds=[200, 201, 199], dec_deg=0, eyepiece="32")
    assert v.state == "mend"
    assert "field_stop_mm" in v.mend
    missed = run("drift-field", seconds=[seconds, 0.8 * seconds, 0.93 * seconds], dec_deg=0)
    assert missed.state == "good"
    assert "missed the middle" in missed.sentence


# ---- level --------------------------------------------------------------------------------------


def test_level_is_not_needed_with_two_stars():
    v = run("level", rise_mm=25)
    assert v.state == "good"
    assert number(v, "lean").value == pytest.approx(math.degrees(math.atan(0.025)))
    two, level = number(v, "two_stars").value, number(v, "two_stars_level").value
    assert abs(two - level) < 0.02
    assert number(v, "one_star").value < level
    assert "No need to level" in v.sentence
    steep = run("level", rise_mm=150)
    assert steep.state == "mend"


def test_the_sign_of_a_number_is_learnt_where_the_direction_is_known():
    known = msgspec.structs.replace(KIT, stop=Stop(lever_arm_mm=250.0, adding="lowers"))
    for after, sign in ((0.6, "measured-minus-true"), (2.2, "true-minus-measured")):
        v = run("number-sign", known, before=1.4, after=after, added_mm=3.0)
        assert v.state == "good"
        assert sign in v.mend
        v = run("number-sign", before=1.4, after=after, added_mm=3.0)
        assert v.state == "unsure"
        assert not v.mend
    with pytest.raises(UserError):
        run("number-sign", before=1.4, after=0.6, added_mm=0.0)


def own_number(stop_deg, hand, rng, n=1):
    """Numbers (n,) of a controller of this test's own, degrees: the angle between two stars by its
    circles, less the true one. Its altitude circle was set at a stop off by ``stop_deg``."""
    az, alt = np.radians([40.0, 130.0]), np.radians([35.0, 55.0])
    slip = rng.normal(0.0, math.radians(hand), (n, 2, 2))
    shown_az = az + slip[..., 0] / np.cos(alt)
    shown_alt = alt - math.radians(stop_deg) + slip[..., 1]

    def between(a, h):
        turn = np.cos(h[..., 0]) * np.cos(h[..., 1]) * np.cos(a[..., 1] - a[..., 0])
        return np.degrees(np.arccos(np.sin(h[..., 0]) * np.sin(h[..., 1]) + turn))

    return between(shown_az, shown_alt) - between(az[None], alt[None])


def test_number_sign_says_the_smallest_change_that_it_could_have_seen():
    """A mount of its own: what the check says that it surely sees it sees, and no change it takes
    for one hardly ever."""
    rng, hand, tries = np.random.default_rng(23), KIT.centring_arcmin / 60.0, 150
    known = msgspec.structs.replace(KIT, stop=Stop(lever_arm_mm=250.0, adding="raises"))
    first = run("number-sign", known, before=1.4, after=1.5, added_mm=3.0)
    least = number(first, "least").value
    assert f"{least:.2f}°" in first.sentence
    assert first.state == "unsure"
    slope = float(own_number(0.05, 0.0, rng)[0] - own_number(-0.05, 0.0, rng)[0]) / 0.1

    def told(tip_deg):
        """How often a sign comes out, and how often the wrong one. A stop that is raised makes the
        circle read less by so much, and this controller shows measured minus true."""
        was = own_number(0.9, hand, rng, tries)
        now = own_number(0.9 + tip_deg, hand, rng, tries)
        signs = [
            run("number-sign", known, before=float(b), after=float(a), added_mm=3.0).mend
            for b, a in zip(was, now, strict=True)
        ]
        away = "true-minus-measured" if slope > 0 else "measured-minus-true"
        return sum(map(bool, signs)) / tries, sum(away in s for s in signs) / tries

    seen, wrong = told(least / abs(slope))
    assert seen >= 0.93
    assert wrong == 0.0
    assert told(0.0)[0] <= 0.08
    assert told(0.3 * least / abs(slope))[0] < 0.5
