"""After a mend of the stop: what was put under it is known the next night, and a mend that went the
wrong way is seen. The mounts are walked.py's, which shares nothing with the program's."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from experiments import load
from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.diagnose import history, learn, shims
from plumbstar.diagnose.evidence import Evidence
from plumbstar.diagnose.history.record import TURNED
from plumbstar.diagnose.teach import evidence_of, learnt_priors, mends_of
from plumbstar.diagnose.weeks import weigh
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim, Stop
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import PERSISTENT
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from samples import tries

weeks, walked = load("weeks"), load("walked")
#: Of the lasting terms only the stop is open: quick to weigh.
ALONE = Priors.from_kit(Kit()).only(["azimuth_zero", "altitude_zero", "lean_north", "lean_west"])
ARM = 250.0
BOX_LISTED = ((0.5, 4), (1.0, 3))
BOX = (Shim(thickness_mm=0.5, count=4), Shim(thickness_mm=1.0, count=3))
SITE = Site(47.2, 11.6, 940.0)
START = Instant.parse("2026-01-03T19:00:00Z")
PUT = ((1.0, 3), (0.5, 1))


def kit(adding="lowers", box=BOX):
    text = f"""name = "shimmed"
[stop]
lever_arm_mm = {ARM}
adding = "{adding}"
[priors]
squareness_sigma_deg = 0.0
droop_sigma_deg = 0.0
azimuth_scale_sigma_percent = 0.0
altitude_scale_sigma_percent = 0.0
"""
    text += "".join(f"[[shim]]\nthickness_mm = {s.thickness_mm}\ncount = {s.count}\n" for s in box)
    return kits.loads(text), text


def day(i):
    return START.plus_seconds(i * 7 * 86400.0)


def raised_deg(mm, adding, arm=ARM):
    """Plane geometry of its own: the bearing point goes round the axis until it meets the face."""
    turn = math.degrees(math.atan2(mm, arm))
    return turn if adding == "raises" else -turn


def telescope(rng, stop_deg):
    """Stop and cone: of few terms a run is quick to weigh."""
    lasting = np.zeros(walked.N_TERMS)
    lasting[walked.E0] = math.radians(stop_deg)
    lasting[walked.CONE] = math.radians(rng.uniform(-0.5, 0.5))
    return lasting


def sight(book, i, lasting, rng, k):
    o = book.start_outing(SITE, k[0], k[1], day(i))
    rows, mount = weeks.evening(lasting, rng)
    for s in rows:
        book.add_sighting(o.id, s, "typed")
    return mount


def summary(book, k):
    said = evidence_of(book, k).said
    anew, moved = mends_of(book, k)
    return history.summarise(
        said, Priors.from_kit(k), Noise.from_kit(k), 1.5, mends=anew, moved=moved
    )


def story(seed, told, truth, after=1, stop_deg=0.9, book=None):
    """Three outings, 3.5 mm put under the stop, and outings after it."""
    rng, book, k = np.random.default_rng(seed), book or Logbook.open(":memory:"), kit(told)
    lasting = telescope(rng, stop_deg)
    for i in range(3):
        sight(book, i, lasting, rng, k)
    book.add_mend("shimmed", ["altitude_zero"], "shimmed", day(4.5), PUT, shims.listed(k[0]))
    lasting[walked.E0] += math.radians(raised_deg(3.5, truth))
    for i in range(after):
        sight(book, 5 + i, lasting, rng, k)
    return book, k[0], lasting, rng


def sighted(i, stop_deg, rng):
    """What an outing says of the stop alone: a hand with heavy tails, two or three stars."""
    sigma = math.radians(0.12)
    value = math.radians(stop_deg) + sigma * rng.standard_t(4) / math.sqrt(2)
    info, vec = np.zeros((9, 9)), np.zeros(9)
    at = PERSISTENT.index("altitude_zero")
    info[at, at], vec[at] = sigma**-2, value / sigma**2
    return Evidence(i + 1, day(i), info, vec)


def mended(rng, told, truth):
    """Four outings of a stop that wanders, shims by arms and thicknesses a little off, a stop that
    bears anew: evidence, what was recorded, and the stop that the next evening really has."""
    stop = rng.uniform(-1.3, 1.3)
    rows = [sighted(i, stop + rng.laplace(0, 0.035), rng) for i in range(4)]
    mm = float(rng.choice([-1, 1]) * rng.uniform(2, 5))
    with Logbook.open(":memory:") as book:
        book.add_mend("shimmed", ["altitude_zero"], "", day(3.5), ((mm, 1),), BOX_LISTED)
        anew, moved = mends_of(book, kit(told)[0])
    assert not anew
    assert moved[0].size == pytest.approx(math.radians(raised_deg(mm, told)))
    stop += raised_deg(mm, truth, ARM * rng.uniform(0.93, 1.07)) + rng.normal() * 0.05
    return rows, moved, stop + rng.laplace(0, 0.035)


def test_what_was_put_in_is_known_the_next_night():
    """The next evening's stop lies in the sigma that was learnt, and that is less than half of what
    forgetting leaves."""
    z, sigmas = [], []
    for seed in range(20):
        rng = np.random.default_rng([19, seed])
        rows, moved, now = mended(rng, "lowers", "lowers")
        got = learn.learn(rows, ALONE, moved=moved).term("altitude_zero")
        z.append((math.radians(now) - got.mean) / got.sigma)
        sigmas.append(math.degrees(got.sigma))
    blank = learn.learn(rows, ALONE, [(day(3.5), ("altitude_zero",))])
    assert np.mean(np.abs(z) < 1) > 0.6
    assert np.mean(np.abs(z) < 2) > 0.9
    assert np.median(sigmas) < 0.45
    assert math.degrees(blank.term("altitude_zero").sigma) > 0.85


def test_a_wrong_way_is_told_from_a_right_one_by_one_outing():
    chances = {"lowers": [], "raises": []}
    for truth, found in chances.items():
        for seed in range(tries(4, 8)):
            rng = np.random.default_rng([20, seed])
            rows, moved, now = mended(rng, "lowers", truth)
            rows.append(sighted(4, now, rng))
            found.append(weigh(learn.run_of(rows, ALONE, (), moved)[2]).turned)
    assert np.mean(np.array(chances["raises"]) > TURNED) > 0.8
    assert max(chances["lowers"]) < 0.2


def test_the_old_advice_is_not_given_again_before_the_next_outing():
    book, k, _, _ = story(1, "lowers", "lowers", after=0)
    s = summary(book, k)
    mends = book.mends(k.name)
    assert shims.advise_from(s, k, mends) is None
    assert "the next outing tells" in history.sentence(s)
    assert s.term("altitude_zero").now == pytest.approx(0.9 - 0.802, abs=0.35)
    assert not any(j.name == "altitude_zero" and j.work.name == "MEND" for j in s.jobs)
    assert s.term("altitude_zero").trust != "trusted"
    assert s.mended.outings == 0


def test_a_mend_that_went_the_wrong_way_is_said_first_and_turned_round():
    book, k, lasting, _ = story(100, "lowers", "raises")
    s = summary(book, k)
    assert s.mended.wrong_way
    said = history.sentence(s)
    assert said.split(". ")[1].startswith("The shims went the wrong way")
    assert 'adding = "raises"' in said
    assert "Nothing has changed" not in said
    advice = shims.advise_from(s, k, book.mends(k.name))
    # Turned round: what was put in comes out, and no more is put on top.
    assert all(m.count < 0 for m in advice.plan.moves)
    true_now = math.degrees(lasting[walked.E0])
    left = true_now + raised_deg(advice.plan.moved_mm, "raises")
    assert abs(left) < abs(true_now) - 0.5
    assert advice.plan.left_deg == pytest.approx(left, abs=0.9)
    # Once the kit is put right the same mend went the right way.
    right = kit("raises")[0]
    s = summary(book, right)
    assert not s.mended.wrong_way
    assert s.mended.told_deg > 0
    # And it is still to be taken out: putting the kit right does not put the stop right.
    again = shims.advise_from(s, right, book.mends(k.name))
    assert all(m.count < 0 for m in again.plan.moves)
    assert again.plan.moved_mm == pytest.approx(advice.plan.moved_mm, abs=0.6)
    assert any(j.name == "altitude_zero" and j.work.name == "MEND" for j in s.jobs[:1])


@pytest.mark.parametrize("truth", ["raises", "lowers"])
def test_an_outing_after_a_mend_tells_a_direction_that_nobody_knew(truth):
    book, k, lasting, rng = story(7, "unknown", truth, after=0)
    s = summary(book, k)
    # Both ways are open: the next night's belief holds both.
    assert s.term("altitude_zero").now_sigma > 0.6
    assert "up or down" in history.sentence(s)
    sight(book, 5, lasting, rng, kit("unknown"))
    s = summary(book, k)
    assert s.mended.adding == truth
    assert f'adding = "{truth}"' in history.sentence(s)


def test_used_shims_leave_the_box_until_it_is_written_anew():
    book, k = Logbook.open(":memory:"), kit()[0]
    book.add_mend(k.name, ["altitude_zero"], "shimmed", day(4), PUT, shims.listed(k))
    mends = book.mends(k.name)
    now = shims.shims_now(k, mends)
    assert [(s.thickness_mm, s.count) for s in now.in_box] == [(0.5, 3)]
    assert [(s.thickness_mm, s.count) for s in now.in_place] == [(0.5, 1), (1.0, 3)]
    bought = kit(box=(Shim(thickness_mm=1.0, count=2),))[0]
    now = shims.shims_now(bought, mends)
    assert [(s.thickness_mm, s.count) for s in now.in_box] == [(1.0, 2)]
    assert sum(s.count for s in now.in_place) == 4
    # One taken out again is in the box; a mend that nobody measured leaves unknown what is there.
    book.add_mend(k.name, ["altitude_zero"], "", day(5), ((1.0, -1),), shims.listed(k))
    now = shims.shims_now(k, book.mends(k.name))
    assert [(s.thickness_mm, s.count) for s in now.in_box] == [(0.5, 3), (1.0, 1)]
    book.add_mend(k.name, ["altitude_zero"], "rebuilt", day(6))
    assert shims.shims_now(k, book.mends(k.name)).in_place == ()


def test_advice_that_does_not_reach_says_how_much_is_left():
    few = Kit(stop=Stop(lever_arm_mm=ARM, adding="lowers"), shim=(Shim(thickness_mm=1.0, count=2),))
    advice = shims.advise(1.5, 0.1, few)
    wanted = ARM * math.tan(math.radians(1.5))
    left = 1.5 + raised_deg(2.0, "lowers")
    assert advice.plan.short_of
    assert f"still leaves {left:+.2f}°" in advice.sentence
    assert any(f"{wanted - 2.0:.1f} mm more" in s for s in advice.steps)


def test_one_outing_sends_nobody_to_mend():
    book, k = Logbook.open(":memory:"), kit()
    rng = np.random.default_rng(4)
    lasting = telescope(rng, 1.2)
    sight(book, 0, lasting, rng, k)
    s = summary(book, k[0])
    assert s.term("altitude_zero").told == 1
    assert all(j.work.name != "MEND" for j in s.jobs)
    assert shims.advise_from(s, k[0]) is None
    sight(book, 1, lasting, rng, k)
    s = summary(book, k[0])
    assert shims.advise_from(s, k[0]).plan is not None


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("3x1+0.5", ((1.0, 3), (0.5, 1))),
        ("2 x 1 mm + 1 x 0,5 mm - 2x0.25", ((1.0, 2), (0.5, 1), (0.25, -2))),
        ("−1.5", ((1.5, -1),)),
        ("1+1", ((1.0, 2),)),
    ],
)
def test_pieces_as_typed(text, pieces):
    assert shims.read_pieces(text) == pieces
    again = shims.typed([shims.Move(t, n) for t, n in pieces])
    assert shims.read_pieces(again) == pieces


@pytest.mark.parametrize("text", ["", "two", "3x", "1 0.5", "200", "0x1", "1-1", "3x1++2"])
def test_pieces_that_cannot_be(text):
    with pytest.raises(UserError, match="as 3x1"):
        shims.read_pieces(text)


def test_at_the_command_line(tmp_path):
    path = str(tmp_path / "log.sqlite3")
    with Logbook.open(path) as book:
        story(100, "lowers", "raises", book=book)
        book.undo()  # nothing of the mend is lost by undo and redo
        book.redo()
    at = ["--logbook", path]

    def run(*args):
        result = CliRunner().invoke(group, [*args, *at], catch_exceptions=False)
        assert result.exit_code == 0
        return result.output

    said = run("mount")
    assert "Left in the box: 3 x 0.5 mm." in said
    command = next(line for line in said.splitlines() if "--added-mm" in line)
    assert "--added-mm=-3x1-1x0.5`" in command
    mended = json.loads(run("mount", "--json"))["stop_mended"]
    assert mended["adding"] == "raises"
    assert mended["added_mm"] == pytest.approx(3.5)
    said = run("log", "mend", "took them out", "--added-mm=-3x1-1x0.5", "--utc", day(5.5).iso())
    assert "3.5 mm thinner" in said
    assert "move the stop by +0.80" in said  # as the kit has it: the next outing tells
    assert "-3.5 mm" in run("log", "priors")
    said = run("log", "mend", "more", "--added-mm", "9x1", "--utc", day(5.6).iso())
    assert "The box has 6 fewer of 1 mm" in said
    with Logbook.open(path) as book:
        assert [m.put_mm for m in book.mends("shimmed")] == [3.5, -3.5, 9.0]
        learnt = learnt_priors(book, replace_arm(kit()[0]))
        # Without an arm nobody knows how far it moved: the stop is learnt anew.
        assert learnt.term("altitude_zero").outings == ()


def replace_arm(k):
    from msgspec import structs

    return structs.replace(k, stop=Stop())


@pytest.mark.parametrize(
    ("told", "truth", "wanted"),
    [("lowers", "raises", "raises"), ("unknown", "lowers", "lowers"), ("lowers", "lowers", "")],
)
def test_a_direction_that_outings_told_is_among_the_lines_for_a_kit(tmp_path, told, truth, wanted):
    path = str(tmp_path / "log.sqlite3")
    with Logbook.open(path) as book:
        story(100, told, truth, book=book)

    def priors(*args):
        at = ["log", "priors", *args, "--logbook", path]
        result = CliRunner().invoke(group, at, catch_exceptions=False)
        assert result.exit_code == 0
        return result.output

    lines = priors("--as-kit")
    assert kits.loads(lines).stop.adding == (wanted or "unknown")
    assert ("adding" in lines) == bool(wanted)
    assert (f'adding = "{wanted}"' in priors()) == bool(wanted)
