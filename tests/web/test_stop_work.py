"""Shims recorded from the pages: what the terminal's mend does, in the same words, and undone."""

import math

import numpy as np
import pytest

from diagnose.test_mended import SITE, day, kit, raised_deg, sight, telescope, walked
from plumbstar.commands import mount as terminal
from plumbstar.diagnose import shims
from plumbstar.diagnose.hand import LearntHand
from plumbstar.diagnose.history import change_sentence, from_logbook
from plumbstar.diagnose.learn import Learnt
from plumbstar.diagnose.teach import learnt_priors, mends_of
from plumbstar.errors import UserError
from plumbstar.logbook.store import Logbook
from plumbstar.mount.priors import Noise
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.mending import Mending
from plumbstar.web.live.thinking import wishes
from plumbstar.web.views import cards, why
from plumbstar.web.views.many_nights import mount_answer

STOP = "altitude_zero"


@pytest.fixture
def weeks_on():
    """Three outings with one telescope, and the evening of the day after the last."""
    rng, k = np.random.default_rng(7), kit("lowers")
    with Logbook.open(":memory:") as book:
        lasting = telescope(rng, 0.9)
        for i in range(3):
            sight(book, i, lasting, rng, k)
            book.end_outing(book.outings()[-1].id, day(i + 0.2))
        e = Evening(book, lambda: day(3.0), site=SITE, kit_text=k[1], encoders=False)
        yield book, k[0], e


def stop_learnt(book, kit):
    learnt = learnt_priors(book, kit)
    return next(t for t in learnt.terms if t.name == STOP)


def test_the_deed_of_the_advice_is_recorded_as_in_the_terminal_and_undone(weeks_on):
    book, k, e = weeks_on
    before = mount_answer(book, k, 1.5)
    work = before.stop_work
    assert work.last is None
    assert work.on_hand_mm == (0.5, 1.0)
    assert sum(p.thickness_mm * p.count for p in work.advised) > 2
    assert work.advised_words.endswith("put in")
    was, key = stop_learnt(book, k), e.learning_key
    e.take_learnt(learnt_priors(book, k), key)
    assert wishes(e).learning is None
    pieces = tuple((p.thickness_mm, p.count) for p in work.advised)
    e.mending.shimmed("press-0001", pieces)
    e.mending.shimmed("press-0001", pieces)  # the link was lost, and the page sent it again
    again = Mending(e.mending._p, e.mending._after, e.mending._preparing)  # after a new start
    again.shimmed("press-0001", pieces)
    (m,) = book.mends(k.name)
    assert (m.terms, dict(m.put)) == ((STOP,), dict(pieces))
    assert m.box == ((0.5, 4), (1.0, 3))
    assert wishes(e).learning is not None  # what was learnt is another now
    anew, moved = mends_of(book, k)
    assert (len(anew), len(moved)) == (0, 1)
    now = stop_learnt(book, k)
    assert now.mean == pytest.approx(was.mean + moved[0].size, abs=0.004)
    said = mount_answer(book, k, 1.5).stop_work
    assert said.last.sentence.startswith(f"Recorded on 2026-01-24: {work.advised_words}.")
    assert "should move the stop by" in said.last.sentence
    assert said.last.can_undo
    e.mending.take_back(said.last.id)
    assert not book.mends(k.name)
    assert stop_learnt(book, k).mean == was.mean
    with pytest.raises(UserError, match="cannot be taken back"):
        e.mending.take_back(said.last.id)
    assert e.learning_key == key


def test_pieces_taken_out_and_what_nobody_knows(weeks_on):
    book, k, e = weeks_on
    e.mending.shimmed("press-0001", ((1.0, -1), (0.5, 2), (0.5, 1)))
    assert book.mends(k.name)[0].put_mm == 0.5
    last = mount_answer(book, k, 1.5).stop_work.last
    assert "3 x 0.5 mm put in and 1 x 1 mm taken out" in last.sentence
    e.mending.shimmed("press-0002", ())
    anew, _moved = mends_of(book, k)
    assert [terms for _, terms in anew] == [(STOP,)]
    assert "learnt anew" in mount_answer(book, k, 1.5).stop_work.last.sentence
    with pytest.raises(UserError):  # nothing has changed
        e.mending.shimmed("press-0003", ((1.0, 1), (1.0, -1)))
    assert len(book.mends(k.name)) == 2


def test_no_mend_amid_sightings_and_an_outing_just_begun_knows_of_it(weeks_on):
    book, k, e = weeks_on
    e.outings.start()
    e.outings.note("Frost on the finder")
    first = e.outing
    e.mending.shimmed("press-0001", ((1.0, 1),))
    assert e.outing.id != first.id
    assert book.notes(first.id)[0].text == "Frost on the finder"  # it stays in the log
    rows = book.sightings(book.outings()[0].id)
    book.add_sighting(e.outing.id, rows[0].sighting, "typed")
    e.reload()
    with pytest.raises(UserError, match="End the outing first"):
        e.mending.shimmed("press-0002", ((1.0, 1),))
    assert len(book.mends(k.name)) == 1


def test_a_mend_told_in_a_terminal_meanwhile_is_learnt_from(weeks_on):
    book, k, e = weeks_on
    key = e.learning_key
    book.add_mend(k.name, [STOP], "shimmed", day(3.0), ((1.0, 1),))
    e.reload()
    assert e.learning_key != key


def test_why_the_card_and_the_shims_reckon_with_the_hand_that_the_fix_uses(weeks_on):
    """An observer who was found to centre three times as roughly as the kit says."""
    book, k, e = weeks_on
    stated = Noise.from_kit(k)
    hand = LearntHand(3.0 * stated.centring, 0.1, stated.centring, 8)
    e.outings.start()
    for row in book.sightings(1):
        book.add_sighting(e.outing.id, row.sighting, "typed")
    e.reload()
    before = why.case_of(e)
    assert before.noise == stated
    e.take_learnt(Learnt(e.instrument.priors, (), hand=hand), e.learning_key)
    case = why.case_of(e)
    assert case.noise == e.instrument.noise == hand.noise(stated)
    assert case.key != before.key
    card = cards.inputs_of(e, "")
    assert card.noise == e.instrument.noise
    summary, _ = from_logbook.summary_of(book, k, 1.5)
    fine, rough = (
        shims.advise_from(summary, k, (), n).plan.chances.solving_before
        for n in (stated, hand.noise(stated))
    )
    assert rough < fine - 0.1


def test_one_press_turns_the_direction_round(weeks_on):
    """The outing after a mend that went the wrong way: said first and by itself, with a press that
    writes the right way into the kit; then nothing is said of it any more."""
    book, k, e = weeks_on
    e.mending.shimmed("press-0001", ((1.0, 3), (0.5, 1)))
    assert "starts from there" in mount_answer(book, k, 1.5).stop_work.last.sentence
    rng = np.random.default_rng(11)
    lasting = telescope(np.random.default_rng(7), 0.9)
    lasting[walked.E0] += math.radians(raised_deg(3.5, "raises"))
    sight(book, 5, lasting, rng, kit("lowers"))
    d = mount_answer(book, k, 1.5)
    assert d.sentence.startswith("4 outings. The shims went the wrong way")
    assert d.sentence.endswith("Adding thickness raises the tube.")
    assert d.adding == "raises"
    assert "[stop]" not in " ".join((d.sentence, *d.lines))
    assert d.stop_work.last.sentence.endswith(", but moved it the other way.")
    e.preparing.write_keys((("[stop]", "adding", d.adding),))
    assert e.kit.stop.adding == "raises"
    after = mount_answer(book, e.kit, 1.5)
    assert after.adding == ""
    assert "wrong way" not in " ".join((after.sentence, *after.lines))
    assert "other way" not in after.stop_work.last.sentence


def test_a_change_of_stop_and_cone_is_said_once_each():
    rng, k = np.random.default_rng(7), kit("lowers")
    with Logbook.open(":memory:") as book:
        lasting = telescope(rng, 0.9)
        for i in range(8):
            if i == 4:
                lasting[walked.E0] += math.radians(1.5)
                lasting[walked.CONE] += math.radians(1.2)
            sight(book, i, lasting, rng, k)
        d = mount_answer(book, k[0], 1.5)
        s, told = from_logbook.summary_of(book, k[0], 1.5)
        assert {c.name for c in s.changes} == {STOP, "cone"}
        # What is not in the sentences at the head stands in the list, and nothing in both.
        page = [d.sentence, *d.lines, *(c.sentence for c in d.changes)]
        printed = terminal.text_of(s, told, k[0], "32 mm")
    for c in s.changes:
        said = change_sentence(c)
        assert sum(said in x for x in page) == 1
        assert printed.count(said) == 1
    assert printed.count("record it: plumbstar log mend") == 2
    assert printed.count("Until it is recorded") == 1
