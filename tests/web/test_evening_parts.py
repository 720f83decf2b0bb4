"""The evening's parts, each alone: what it keeps, what it saves, and what it leaves to others."""

import dataclasses

import pytest

from plumbstar import kit as kits
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.guide.course import Course
from plumbstar.guide.sun import Ban
from plumbstar.logbook import Logbook
from plumbstar.logbook.slips import slips_in
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import CountSlip, SlipCause
from plumbstar.sky.naming import lookup
from plumbstar.solve.fix import solve
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.counts import EncoderCounts, KeptCounts
from plumbstar.web.evening.desk import DeskKeeper, StopTold
from plumbstar.web.evening.display import ControllerDisplay
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ground import Ground
from plumbstar.web.evening.guidance import Guidance, target_named
from plumbstar.web.evening.instrument import Instrument
from plumbstar.web.evening.messages import MOST_MESSAGES, Messages
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.plan import StarPlan
from plumbstar.web.evening.ranking import NextToSight, Ranking
from plumbstar.web.evening.search import Search
from plumbstar.web.evening.sightings import Predicted, Sightings
from plumbstar.web.evening.slips import Slips
from plumbstar.web.evening.solved import solve_evening
from plumbstar.web.evening.upright import UprightStop

from .server_rig import NIGHT, NOISE, SCENE
from .test_server_parts import PRIORS, sightings

KIT_TEXT = kits.example_text()


@pytest.fixture
def book(tmp_path):
    with Logbook.open(tmp_path / "logbook.sqlite3") as b:
        yield b


@pytest.fixture
def current(book):
    return OutingInProgress(book, lambda: NIGHT)


@pytest.fixture
def keeper(book, current):
    return DeskKeeper(book, current)


def begin(current):
    return current.begin(SCENE.site, SCENE.kit, KIT_TEXT)


def reading(az=100.0, alt=40.0, **more):
    return Reading(az_deg=az, alt_deg=alt, state="live", az_count=1, alt_count=2, **more)


def fact(star="Capella"):
    return Sighting(star, 60.0, 50.0, 61.0, 51.0, NIGHT, "32 mm")


def add(mine, star="Capella", press="press-0001", **more):
    return mine.add(fact(star), reading(**more), star, press)


# ---- messages


def test_the_same_sentence_takes_the_place_of_the_old_one_and_the_oldest_fall_off():
    m = Messages()
    for k in range(MOST_MESSAGES + 2):
        m.say(f"sentence {k}", "info")
    assert [x.text for x in m.shown] == [f"Sentence {k}" for k in range(2, MOST_MESSAGES + 2)]
    m.say("Sentence 3", "problem")
    assert [x.text for x in m.shown][-1] == "Sentence 3"
    assert len(m.shown) == MOST_MESSAGES
    m.dismiss(m.shown[0].id)
    m.dismiss("no such")
    assert len(m.shown) == MOST_MESSAGES - 1


# ---- outing


def test_an_outing_is_begun_ended_and_discarded(book, current):
    with pytest.raises(UserError):
        current.need()
    first = begin(current)
    current.note("seeing poor")
    assert not current.filter_confirmed
    current.confirm_filter(True)
    assert current.filter_confirmed
    assert [n.text for n in book.notes(first.id)] == ["seeing poor"]
    current.end()
    assert current.outing is None
    assert book.outing(first.id).ended is not None
    begin(current)
    current.discard()
    assert [o.id for o in book.outings()] == [first.id]


# ---- the desk


def test_the_desk_lies_in_the_outing_and_between_outings_in_a_setting(book, current, keeper):
    keeper.change(eyepiece="17 mm", plan=("Capella",))
    begin(current)
    keeper.carry_into_outing((), None)
    keeper.change(plan=("Capella", "Rigel"))
    again = DeskKeeper(book, current)
    again.read()
    assert again.desk.plan == ("Capella", "Rigel")
    keeper.clear()
    current.end()
    again.read()
    # The plan was for that evening; the eyepiece is in the focuser still.
    assert (again.desk.plan, again.desk.eyepiece) == ((), "17 mm")


# ---- ground and instrument


def test_a_site_renamed_takes_its_skyline_along(book):
    ground = Ground(book)
    with pytest.raises(UserError):
        ground.need_site()
    ground.set_site(SCENE.site)
    ground.set_skyline("90:20 120:25")
    ground.set_site(dataclasses.replace(SCENE.site, name="The ridge"))
    assert len(ground.skyline.points) == 2
    assert ground.named("The ridge").lat_deg == SCENE.site.lat_deg
    ground.set_site(dataclasses.replace(SCENE.site, lat_deg=50.0, name=""))
    assert ground.skyline.points == ()
    assert ground.last().lat_deg == 50.0


def test_the_eyepiece_in_use_is_the_one_chosen_else_the_widest(book, keeper):
    mine = Instrument(book, keeper, encoders=False)
    mine.take(KIT_TEXT)
    assert mine.kit.connection.kind == "typed"
    assert mine.eyepiece == mine.kit.finder_eyepiece()
    other = next(e for e in mine.kit.eyepiece if e != mine.eyepiece)
    wide = mine.field_deg
    mine.set_eyepiece(other.name)
    assert mine.field_deg < wide
    assert keeper.desk.eyepiece == other.name


# ---- plan


def test_a_ranking_that_comes_too_late_is_dropped(keeper):
    plan = StarPlan(keeper)
    old = plan.ranking_asked(NIGHT)
    new = plan.ranking_asked(NIGHT)
    plan.ranking_ready(old, Ranking(status="ready", sentence="old"))
    assert plan.choice.status == "working"
    plan.ranking_ready(new, Ranking(status="ready", sentence="new"))
    assert keeper.desk.choice.sentence == "new"
    plan.forget_ranking()
    assert plan.choice is None
    assert keeper.desk.choice is None


def test_that_no_star_would_help_is_known_too(keeper):
    plan = StarPlan(keeper)
    assert not plan.next_star_known
    plan.take_next_star(None)
    assert plan.next_star_known
    plan.take_next_star(NextToSight("Rigel", 0.5, 0.9, "Rigel next", True))
    plan.forget_next_star()
    assert (plan.next_star, plan.next_star_known) == (None, False)


def test_only_stars_are_planned_each_once(keeper):
    plan = StarPlan(keeper)
    plan.pick(["capella", "Rigel", "Capella"])
    plan.add("Rigel")
    assert plan.names == ("Capella", "Rigel")
    with pytest.raises(UserError, match="not in the list of stars to sight"):
        plan.add("M 42")
    plan.remove(" RIGEL ")
    assert plan.names == ("Capella",)


# ---- sightings


def test_sightings_are_set_aside_deleted_undone(book, current):
    mine = Sightings(book, current)
    begin(current)
    first = add(mine)
    second = add(mine, "Rigel", "press-0002")
    assert mine.known_press("press-0001") == first
    assert mine.used_ids == (first, second)
    mine.set_aside(first, "")
    assert mine.used_ids == (second,)
    mine.delete(second)
    assert [s.id for s in mine.all] == [first]
    assert mine.last_made == second  # undo may bring it back
    mine.undo()
    assert mine.used_ids == (second,)
    mine.redo()
    assert mine.used_ids == ()
    with pytest.raises(UserError, match="sighting 99"):
        mine.restore(99)


def test_a_find_is_one_entry_and_one_undo(book, current):
    mine = Sightings(book, current)
    outing = begin(current)
    mine.add(fact("M42"), reading(), "M42", "press-0001", Predicted(61.2, 51.1, 0.75))
    assert book.finds(outing.id)[0].found
    assert len(mine.all) == 1
    mine.undo()
    assert mine.all == ()
    assert book.finds(outing.id) == ()
    with pytest.raises(UserError, match="nothing to undo"):
        mine.undo()


# ---- slips


@pytest.fixture
def upright(book, current, keeper):
    return UprightStop(keeper, current, Sightings(book, current), lambda: NIGHT)


def test_the_stop_is_told_for_one_evening_and_not_after_a_star(book, current, keeper, upright):
    assert upright.told is None
    upright.tell(-0.04)
    assert upright.told == StopTold(NIGHT.iso(), -0.04)
    counts = EncoderCounts(book, current, upright)
    counts.keep(((0, 0), (0, 0), "", (0.0, 90.0)))
    assert counts.kept() is not None  # a restart before the outing begins
    mine = Sightings(book, current)
    later = UprightStop(keeper, current, mine, lambda: NIGHT.plus_seconds(15 * 3600))
    assert later.told is None
    assert EncoderCounts(book, current, later).kept() is None

    outing = begin(current)
    keeper.carry_into_outing((), upright.told)
    upright.log()
    (note,) = book.notes(outing.id)
    assert "The altitude read -0.04° there, and reads 90° since." in note.text
    mine.read()
    add(mine)
    with pytest.raises(UserError, match="1 star was sighted"):
        later.tell(20.0)
    assert later.told == upright.told  # the outing it was told for goes on
    current.end()
    keeper.clear()
    assert upright.told is not None
    assert later.told is None


def test_a_slip_is_open_until_the_next_sighting(book, current, keeper):
    mine = Sightings(book, current)
    slips = Slips(keeper, mine)
    begin(current)
    add(mine)
    jumped = CountSlip(1, (SlipCause("jump", ("azimuth",), 30.0),), 10.0)
    assert slips.reported([jumped])
    assert not slips.reported([jumped])  # the same one, told again
    assert slips.open.axes == ("azimuth", "altitude")  # one jumps, both are doubted
    assert slips.open.words == "the azimuth count jumped by 30.0° at once"
    late = add(mine, "Rigel", "press-0002", at_monotonic=9.0)
    slips.leave_open_for_late(late, reading(at_monotonic=9.0))
    assert slips.open is not None  # that press was from before it
    assert slips.settled_number == 0
    add(mine, "Pollux", "press-0003", at_monotonic=12.0, slips_before=1)
    assert slips.open is None
    assert slips.settled_number == 1


def test_a_press_between_two_slips_settles_the_first_only(book, current, keeper):
    mine = Sightings(book, current)
    slips = Slips(keeper, mine)
    begin(current)
    first = add(mine)
    cause = (SlipCause("jump", ("azimuth",), 30.0),)
    slips.reported([CountSlip(1, cause, 10.0), CountSlip(2, cause, 20.0)])
    between = add(mine, "Rigel", "press-0002", at_monotonic=15.0, slips_before=1)
    slips.leave_open_for_late(between, reading(at_monotonic=15.0, slip=True, slips_before=1))
    assert [s.after for s in slips.all] == [first, between]
    assert slips.open.number == 2
    assert slips.settled_number == 1
    older = add(mine, "Capella", "press-0003", at_monotonic=5.0)
    slips.leave_open_for_late(older, reading(at_monotonic=5.0))
    assert slips.open.number == 2


def test_a_press_from_before_the_base_was_moved_settles_nothing(book, current, keeper):
    mine = Sightings(book, current)
    slips = Slips(keeper, mine)
    begin(current)
    add(mine)
    slips.base_moved(20.0)
    late = add(mine, "Rigel", "press-0002", at_monotonic=15.0)
    slips.leave_open_for_late(late, reading(at_monotonic=15.0))
    assert slips.open is not None
    add(mine, "Pollux", "press-0003", at_monotonic=25.0)
    slips.leave_open_for_late(mine.last_made, reading(at_monotonic=25.0))
    assert slips.open is None


def test_slips_as_older_versions_kept_them_still_load():
    old = {"desk": {"slips": [{"after": 3, "axes": ["azimuth"], "why": "the count jumped"}]}}
    (slip,) = slips_in(old)
    assert (slip.after, slip.axes, slip.words, slip.number) == (
        3, ("azimuth",), "the count jumped", 0,
    )  # fmt: skip


def test_an_answer_about_a_slip_may_be_changed(book, current, keeper):
    mine = Sightings(book, current)
    slips = Slips(keeper, mine)
    begin(current)
    first = add(mine)
    with pytest.raises(UserError):
        slips.answer(first, True, (None, ()))
    slips.answer(first, False, (first, ("azimuth",)))
    assert slips.denied == {first}
    slips.answer(first, True, (None, ()))
    assert slips.denied == frozenset()
    assert len(slips.all) == 1
    assert slips.open is not None
    add(mine, "Rigel", "press-0002")
    with pytest.raises(UserError, match="No possible slip"):
        slips.nothing_moved()


# ---- the fix


def test_the_fix_is_made_whole_from_the_sightings_in_use(book, current, keeper):
    mine = Sightings(book, current)
    begin(current)
    for k, s in enumerate(sightings(("Capella", "Rigel", "Pollux"))):
        mine.add(s, reading(), s.star, f"press-{k:04d}")
    solved = solve_evening(mine.used, Slips(keeper, mine), (), PRIORS, NOISE)
    alone = solve([s.sighting for s in mine.used], PRIORS, NOISE)
    assert solved.fix.mean == pytest.approx(alone.mean)
    assert solved.residual_arcmin(mine.used[0].id) < 30.0
    assert solved.residual_arcmin(99) is None
    eyepiece = SCENE.kit.finder_eyepiece()
    said = solved.words(eyepiece, 1.5, 0.98)
    assert said is solved.words(eyepiece, 1.5, 0.98)  # worked out once
    assert solved.words(eyepiece, 1.5, 0.49)[1] == pytest.approx(said[1] / 2)  # moved, half of them
    none = solve_evening((), Slips(keeper, mine), (), PRIORS, NOISE)
    assert none.fix is None
    assert none.left_out() == {}


# ---- target and search


@pytest.fixture
def finding(book, current, keeper):
    """Guidance and a search with three sightings, and the fix from them."""
    ground, mine = Ground(book), Sightings(book, current)
    ground.take(SCENE.site)
    guidance = Guidance(keeper, ground, lambda: NIGHT, lambda: True)
    begin(current)
    rows = sightings(("Capella", "Rigel", "Pollux"))
    for k, s in enumerate(rows):
        mine.add(s, reading(), s.star, f"press-{k:04d}")
    search = Search(keeper, guidance, mine, ControllerDisplay(book, current))
    return guidance, search, mine, solve(rows, PRIORS, NOISE)


def test_the_sun_is_no_target_and_an_unknown_hour_forbids_any(book, keeper):
    with pytest.raises(UserError, match="never guides to the Sun"):
        target_named("Sun")
    ground = Ground(book)
    ground.take(SCENE.site)
    guidance = Guidance(keeper, ground, lambda: NIGHT, lambda: False)
    course = Course(lookup.find_target("M 42"), SCENE.site)
    ban = guidance.forbidden(course)
    assert ban.ban is Ban.CLOCK
    assert "clock" in ban.refusal().on_pages()
    guidance = Guidance(keeper, ground, lambda: NIGHT, lambda: True)
    assert guidance.forbidden(course) is None


def test_an_aim_is_taken_and_the_target_comes_back_from_the_desk(finding, keeper, book):
    guidance, search, _, fix = finding
    guidance.choose(target_named("M 42"))
    with pytest.raises(UserError, match="No target is chosen"):
        guidance.followed()  # no aim was taken yet
    guidance.take_aim(fix, 1.5, 20.0, False, search.stop_deg)
    assert guidance.followed()[0].key == keeper.desk.target
    az, alt = guidance.goal(NIGHT, 180.0)
    assert fix.pointing_of(az, alt) == pytest.approx(guidance.target_now(NIGHT)[1:], abs=1e-6)
    guidance.leave()
    assert guidance.target is None
    guidance.read()
    assert guidance.target is not None


def test_a_search_goes_on_back_and_over_and_ends_with_another_sighting(finding):
    guidance, search, mine, fix = finding
    guidance.choose(target_named("M 42"))
    guidance.take_aim(fix, 0.3, 20.0, False, None)
    target, place = guidance.target, guidance.target_now(NIGHT)[1:]

    def not_here():
        step = search.next_step(target, fix, *place, 0.3, NIGHT)
        search.take(*step)
        return step[0]

    with pytest.raises(UserError):
        search.back()
    path = not_here()
    assert search.stop_deg == path.stops[1]
    assert len(search.misses) == 1
    not_here()
    assert len(search.misses) == 1  # only the first field is a miss for the fix
    search.back()
    search.back()
    assert search.under_way is None
    assert search.misses == ()
    while not not_here().over:
        pass
    assert search.under_way is None
    not_here()
    assert search.under_way is not None
    add(mine, "Aldebaran", "press-0009")
    assert search.under_way is None  # with another fix it led elsewhere
    assert search.misses == ()


# ---- what follows from a change


def test_a_refit_takes_aim_anew_and_a_new_aim_leaves_the_fix(book):
    p = Parts(book, lambda: NIGHT, False, None)
    after = Consequences(p)
    p.instrument.take(KIT_TEXT)
    p.ground.set_site(SCENE.site)
    begin(p.current)
    for k, s in enumerate(sightings(("Capella", "Rigel"))):
        p.sightings.add(s, reading(), s.star, f"press-{k:04d}")
    p.plan.take_next_star(None)
    after.refit(log=True)
    assert after.fix is not None
    assert p.guidance.aim.fix is after.fix
    assert not p.plan.next_star_known
    assert len(book.fixes(p.current.outing.id)) == 1
    fix = after.fix
    p.guidance.choose(target_named("M 42"))
    assert p.guidance.aim.course is None  # nothing follows of itself
    after.new_aim()
    assert p.guidance.aim.course is not None
    assert after.fix is fix


# ---- counts


def test_counts_are_carried_on_only_within_an_outing(book, current, upright):
    counts = EncoderCounts(book, current, upright)
    slip = CountSlip(1, (SlipCause("restart", ("azimuth",)),), 5.0)
    held = KeptCounts((1, 2), (3, 4), (0.0, 90.0), (slip,), 1)
    counts.keep(held)
    counts.keep(None)
    assert counts.kept() is None
    begin(current)
    assert counts.kept() == held
    for words, open_slips in (("", 0), ("the azimuth count jumped", 1)):  # as they once were kept
        book.set_setting("encoder_counts", [[1, 2], [3, 4], words, [0.0, 90.0]])
        older = counts.kept()
        assert (older.raw, older.total, older.zero_deg) == ((1, 2), (3, 4), (0.0, 90.0))
        assert (len(older.slips), older.slips_before) == (open_slips, open_slips)
    book.set_setting("encoder_counts", {"damaged": 1})
    assert counts.kept() is None


def test_a_logbook_that_can_only_be_read_is_told_when_it_comes_up(tmp_path, monkeypatch):
    """Not at the first star, when the evening is lost."""
    monkeypatch.setattr(Logbook, "readonly", True)
    with Logbook.open(tmp_path / "log.sqlite3") as b:
        (said,) = Evening(b, lambda: NIGHT).messages.shown
    assert said.kind == "problem"
    assert "is read-only: nothing can be saved. Make it writable on the computer" in said.text


def test_a_logbook_filled_without_the_pages_gives_kit_and_site(book):
    """Outings of a command, or brought in: no page has kept a kit or a site as its last."""
    text = KIT_TEXT.replace('name = "', 'name = "Long ', 1)
    kit = kits.loads(text)
    book.start_outing(SCENE.site, SCENE.kit, KIT_TEXT, NIGHT.plus_seconds(-9 * 86400.0))
    for days, its_text in ((8, text), (7, "of = no use"), (6, "")):
        at = NIGHT.plus_seconds(-days * 86400.0)
        o = book.start_outing(SCENE.site if days == 8 else None, kit, its_text, at)
        book.end_outing(o.id, at.plus_seconds(3600.0))
    e = Evening(book, lambda: NIGHT, encoders=False)
    assert e.kit.name == kit.name != SCENE.kit.name
    assert (e.ground.site.lat_deg, e.ground.site.lon_deg) == (
        SCENE.site.lat_deg,
        SCENE.site.lon_deg,
    )
    # What a page keeps goes before it, and what the command line names before that.
    e.instrument.remember(KIT_TEXT)
    assert Evening(book, lambda: NIGHT, encoders=False).kit.name == kits.loads(KIT_TEXT).name
