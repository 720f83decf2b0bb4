"""The paper card: read back from the PDF by an independent reader."""

import dataclasses
import io
import re

import pytest

import needs
from plumbstar.card import paper
from plumbstar.errors import UserError

from .rig import NASTY, card, full, with_names

pdfium = needs.module("pypdfium2")
needs.module("typst")

MM = 72.0 / 25.4


def pages(data):
    return list(pdfium.PdfDocument(io.BytesIO(data)))


def words_of(data):
    return "\n".join(p.get_textpage().get_text_bounded() for p in pages(data))


def plain(text):
    return "".join(text.replace("\u200b", "").replace("\ufffe", "").split())


def test_a5_two_sides_with_everything_on_them():
    c = full()
    data = paper.pdf(c)
    sides = pages(data)
    assert len(sides) == 2
    for p in sides:
        assert p.get_size() == pytest.approx((148 * MM, 210 * MM), abs=0.5)
    text = plain(words_of(data))
    for wanted in (
        "Night of 28 to 29 January 2027", "Thornback Ridge", "UTC+1", c.sky, "Readings", "Notes",
        *(m.what for m in c.moments), *(a.name for h in c.hours for a in h.stars),
        *(s.name for s in c.stops), *(s.reason for s in c.stops),
        *(part for s in c.stops for part in s.push.split(", ")),
        *c.cautions, *(sentence for f in c.fields for _, sentence in f.alike),
    ):  # fmt: skip
        assert plain(wanted) in text, wanted
    assert plain("α Tau") in text  # Greek


def inside(data, margin_mm=8.0):
    """Nothing printed outside the margins: looked at in the rendered pages, as a person would."""
    for p in pages(data):
        picture = p.render(scale=2.0, grayscale=True).to_numpy()
        picture = picture.reshape(picture.shape[0], picture.shape[1])
        m = int(margin_mm * MM * 2.0)
        assert picture[:, :m].min() > 200
        assert picture[:, -m:].min() > 200
        assert picture[:m].min() > 200
        assert picture[-int(4.0 * MM * 2.0) :].min() > 200
        # The strip between what is written and the cautions below it: no ruled line runs down.
        strip = picture[int(193.5 * MM * 2.0) : int(195.0 * MM * 2.0)]
        assert strip.min() > 200


def overlaps(data):
    """Pairs of text lines that lie on each other (boxes sharing over a third of the lower one)."""
    found = []
    for p in pages(data):
        t = p.get_textpage()
        boxes = [t.get_rect(i) for i in range(t.count_rects())]
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                wide = min(a[2], b[2]) - max(a[0], b[0])
                high = min(a[3], b[3]) - max(a[1], b[1])
                least = min(a[3] - a[1], b[3] - b[1])
                if wide > 2.0 and high > 0.5 * least:
                    found.append((t.get_text_bounded(*a), t.get_text_bounded(*b)))
    return found


@pytest.mark.parametrize("which", ["none", "full", "south"])
def test_nothing_leaves_the_page_or_lies_on_something_else(which):
    c = {"none": card, "full": full, "south": lambda: card(south=True)}[which]()
    data = paper.pdf(c)
    assert len(pages(data)) == 2
    inside(data)
    assert overlaps(data) == []


def test_twelve_targets_with_long_names_and_reasons_stay_inside():
    c = full()
    long = dataclasses.replace(
        c,
        site="The upper meadow behind the old barn at the far end of the valley road",
        stops=tuple(
            dataclasses.replace(
                s, name="NGC 7000 (North America Nebula, the whole of it)", note="",
                reason="Its light is spread so thin that only a dark sky shows it; look a while.",
                eyepiece="32 mm wide-angle", where="halfway up in the north-west",
            )
            for s in c.stops
        ),
    )  # fmt: skip
    data = paper.pdf(long)
    inside(data)
    assert overlaps(data) == []
    assert words_of(data).count("North America") == 12


@pytest.mark.parametrize("name", NASTY)
def test_words_from_outside_are_printed_as_they_are_and_never_obeyed(name):
    c = with_names(dataclasses.replace(full(), stops=full().stops[:3]), name)
    data = paper.pdf(c)
    inside(data)
    if name.isascii():
        assert plain(c.site) in plain(words_of(data))


@pytest.mark.parametrize(("many", "sides"), [(18, 2), (36, 3)])
def test_a_long_evening_gives_up_reasons_first_and_then_takes_another_side(many, sides):
    c = full()
    data = paper.pdf(dataclasses.replace(c, stops=(c.stops * 3)[:many]))
    assert len(pages(data)) == sides
    inside(data)
    assert overlaps(data) == []
    text = words_of(data)
    assert c.stops[0].reason not in text
    assert text.count("fair") == many


def test_what_is_left_out_shares_its_reason():
    many = (("M 1", "no time for it"), ("M 2", "no time for it"), ("M 3", "past its best"))
    c = dataclasses.replace(full(), left_out=many, stops=full().stops[:3])
    text = plain(words_of(paper.pdf(c)))
    assert plain("Left out: no time for it: M 1, M 2; past its best: M 3.") in text


def test_one_side_is_one_page():
    assert len(pages(paper.pdf(full(), "one"))) == 1


def test_more_look_alikes_than_there_is_room_for_leave_fewer_drawings_and_no_third_page():
    c = card(south=True)
    much = dataclasses.replace(
        c,
        fields=tuple(
            dataclasses.replace(
                f, alike=tuple((x, "A long sentence about it. " * 5) for x in "ABC")
            )
            for f in c.fields
        ),
    )
    data = paper.pdf(much)
    assert len(pages(data)) == 2
    inside(data)
    assert overlaps(data) == []


def test_the_same_card_is_the_same_file():
    assert paper.pdf(card()) == paper.pdf(card())


def test_without_typst_it_says_what_to_install(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(UserError, match=r"plumbstar\[card\]"):
        paper.pdf(card())


def test_polar_day_has_a_card():
    c = dataclasses.replace(card(), hours=(), fields=(), hours_note="The Sun does not set.")
    assert plain("The Sun does not set.") in plain(words_of(paper.pdf(c)))


@pytest.mark.parametrize(("many", "all_on"), [(19, True), (30, False)])
def test_beside_a_controller_it_keeps_to_two_sides_and_says_what_is_cut(many, all_on):
    c = full()
    stops = tuple(
        dataclasses.replace(s, name=f"Object {k}", on=("0.4° left, 0.8° down",) * 3)
        for k, s in enumerate((c.stops * 3)[:many])
    )
    data = paper.pdf(dataclasses.replace(c, stops=stops, beside=True))
    assert len(pages(data)) == 2
    inside(data)
    assert overlaps(data) == []
    text = plain(words_of(data))
    told = re.search(r"Noroomherefor(\d+)more,whichthephone’scardhas:(.*)", text)
    cut, said = (int(told[1]), told[2]) if told else (0, "")
    assert (cut == 0) == all_on
    for k in range(many):
        assert plain(f"Object {k}") in (said if k >= many - cut else text)
    assert text.count(plain("0.8° down")) == 3 * (many - cut)
