"""The protocol's elements taken apart: a well-formed one, however cut, comes out whole."""

from __future__ import annotations

import time
from xml.sax.saxutils import escape, quoteattr

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.web.indi.stream import LIMIT, BadStream, IndiCommand, IndiStream, number
from plumbstar.web.indi.vectors import IndiMember, IndiVector, Kind, said

# What XML 1.0 can hold; line ends are made \n by any reader of it, so they are left out.
letters = st.text(
    st.characters(min_codepoint=32, max_codepoint=0xFFFD, exclude_categories=["Cs"]), max_size=6
)
parts = st.lists(st.tuples(letters, letters.map(str.strip)), max_size=3)


@st.composite
def elements(draw):
    tag = draw(st.sampled_from(["newNumberVector", "getProperties", "newTextVector", "x"]))
    attributes = draw(
        st.dictionaries(st.sampled_from(["device", "name", "version"]), letters, max_size=3)
    )
    inside = draw(parts)
    head = "".join(f" {k}={quoteattr(v)}" for k, v in attributes.items())
    body = "".join(f"\n<one name={quoteattr(n)}>{escape(v)}</one>" for n, v in inside)
    text = f"<{tag}{head}/>" if not inside else f"<{tag}{head}>{body}</{tag} >"
    return text, IndiCommand(tag, attributes, tuple(inside))


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(st.lists(elements(), max_size=3), st.data())
def test_however_it_is_cut(sent, data):
    stream, got = IndiStream(), []
    left = "\r\n".join(text for text, _ in sent).encode()
    while left:
        n = data.draw(st.integers(1, len(left)))
        got += stream.feed(left[:n])
        left = left[n:]
    assert got == [wanted for _, wanted in sent]
    assert not stream.unfinished


@settings(max_examples=40, deadline=None, derandomize=True, database=None)
@given(st.text(max_size=12), st.text(max_size=12))
def test_what_is_written_can_be_read(value, message):
    """Any text at all, letters that XML cannot hold included: another program must not choke."""
    v = IndiVector(Kind.TEXT, "NAME", value, (IndiMember("A", message, value),))
    sent = v.defined(message) + v.told(value, message) + said(value, message)
    defined, told, sentence = IndiStream().feed(sent.encode())
    assert (defined.tag, told.tag, sentence.tag) == ("defTextVector", "setTextVector", "message")
    assert defined.given("perm") == "ro"
    assert [name for name, _ in told.parts] == ["A"]


@pytest.mark.parametrize(
    "sent",
    [
        b"GET / HTTP/1.1\r\n", b"\x00", b"hello", b"</a>", b"<1>", b"<!-- -->", b"<a><b></a>",
        b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
        b'<a><!DOCTYPE a [<!ENTITY b "c">]>&b;</a>', b"<a>&nbsp;</a>", b"<a><b><c/></b></a>",
        b"<a>" + b"<b/>" * 51 + b"</a>", b"<a b='<'/>", b"<a>\xff</a>", b"<a b=c/>",
        b"<newBLOBVector ", b"<a>" + b"x" * LIMIT, b"<a" + b" " * LIMIT, b"<" + b"a" * 60,
        b"<a><![CDATA[</a>]]></a>", b"<?xml " + b" " * 300, b"<?php ?>",
    ],
)  # fmt: skip
def test_what_is_refused(sent):
    with pytest.raises(BadStream):
        list(IndiStream().feed(sent))


@pytest.mark.parametrize("filler", [b"x", b" ", b'"', b"</a", b"<", b"a='>' "])
def test_drops_cost_no_more_than_a_stream(filler):
    """A whole element's worth byte by byte: each byte is looked at once. (Looked at anew with each,
    it took 22 s of processor time, against 0.2 s.)"""
    began = time.process_time()
    for start in (b"<a>", b"<a "):
        stream = IndiStream()
        list(stream.feed(start))
        sent = filler * (LIMIT // len(filler))
        try:
            for i in range(len(sent)):
                list(stream.feed(sent[i : i + 1]))
        except BadStream:
            continue
    assert time.process_time() - began < 5.0


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("5.25", 5.25), (" -8 ", -8.0), ("5:15", 5.25), ("-0:30", -0.5), ("12 30 36", 12.51),
        ("-12;30;36.0", -12.51), ("1e1", 10.0), (".5", 0.5), ("+3.", 3.0),
        ("05:16:41.358", 5.278155),
        ("", None), ("nan", None), ("inf", None), ("1_0", None), ("5:61", None), ("5:1:60", None),
        ("--1", None), ("5.5:30", None), ("5:30.5:10", None), ("٣", None), ("1" * 70, None),
    ],
)  # fmt: skip
def test_numbers_as_the_protocol_writes_them(text, wanted):
    got = number(text)
    assert got == wanted if wanted is None else abs(got - wanted) < 1e-9
