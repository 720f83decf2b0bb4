"""The phone's card: one file, nothing fetched, nothing obeyed, and it says all that paper says."""

import dataclasses
import re
from html.parser import HTMLParser

import pytest

from plumbstar.card import phone

from .rig import NASTY, card, full, with_names

#: Elements without an end tag.
VOID = {"meta", "input", "br", "circle", "path"}


class Reader(HTMLParser):
    """Tags, attributes and text; fails on a tag closed out of order."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.ids, self.links, self.words, self._open = [], [], [], [], []
        self.attributes = set()
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes |= {k for k, _ in attrs}
        given = dict(attrs)
        if "id" in given:
            self.ids.append(given["id"])
        if "href" in given:
            self.links.append(given["href"])
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open[-1:] not in (["style"], []):
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("which", ["none", "full", "south"])
def test_one_file_that_asks_for_nothing(which):
    text = phone.html({"none": card, "full": full, "south": lambda: card(south=True)}[which]())
    assert not re.search(r"https?:|//[a-z]|url\(|@import|<link|<script|<img|<iframe", text)
    seen = Reader(text)
    assert {"src", "srcset", "style", "onclick"}.isdisjoint(seen.attributes)
    assert all(x.startswith("#") and x[1:] in seen.ids for x in seen.links)
    assert len(seen.ids) == len(set(seen.ids))


def test_all_of_the_card_is_in_it():
    c = full()
    text = Reader(phone.html(c)).text
    for wanted in (
        c.night, c.site, c.place, c.telescope, c.sky, c.zone, *c.cautions,
        *(m.what for m in c.moments), *(c.time(m.instant) for m in c.moments),
        *(a.where for h in c.hours for a in h.stars), *(f.designation for f in c.fields),
        *(s.name for s in c.stops), *(s.push for s in c.stops), *(s.reason for s in c.stops),
        *(sentence for f in c.fields for _, sentence in f.alike),
    ):  # fmt: skip
        assert wanted in text, wanted


@pytest.mark.parametrize("name", NASTY)
def test_words_from_outside_are_only_words(name):
    plain, nasty = Reader(phone.html(full())), with_names(full(), name)
    seen = Reader(phone.html(nasty))
    assert set(seen.tags) <= set(plain.tags) | {"ul"}
    assert seen.attributes == plain.attributes
    assert " ".join(nasty.site.split()) in seen.text


def test_control_characters_and_broken_letters_are_cleaned_away():
    c = card(name="a\x00b\udc80c\r\nd\u202ee", hours=0.1)
    assert c.site == "a b?c d e"
    phone.html(c).encode("utf-8")


def test_a_time_that_does_not_come_says_why():
    c = card()
    moments = tuple(
        dataclasses.replace(m, instant=None, reason="the Sun stays above -18° for the next day")
        if m.key == "astronomical_dusk"
        else m
        for m in c.moments
    )
    text = Reader(phone.html(dataclasses.replace(c, moments=moments))).text
    assert "the Sun stays above -18° for the next day" in text
