"""Bytes to counts: any board's line, any chopping, any junk."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.encoders.parse import MAX_LINE, Counts, ReplyParser, printable, two_integers
from samples import tries


@pytest.mark.parametrize(
    ("line", "base", "pair"),
    [
        (b"1234 -56", 10, (1234, -56)),
        (b"+01234\t-00056", 10, (1234, -56)),
        (b"+12-34", 10, (12, -34)),
        (b"<1234,5678>", 10, (1234, 5678)),
        (b"12;34;99", 10, (12, 34)),
        (b"E1=1234, E2=-5", 10, (1234, -5)),
        (b"E1 1234 E2 56", 10, (1234, 56)),
        (b"AZ1234ALT-56", 10, (1234, -56)),
        (b"AZ1234ALT56", 10, (1234, 56)),
        (b"az: 7 alt: 8 ticks", 10, (7, 8)),
        (b"1234:5678", 10, (1234, 5678)),
        (b"\x00\xff12\x80 34\x07", 10, (12, 34)),
        (b"1F3C,-00a0", 16, (0x1F3C, -0xA0)),
        (b"0x1F3C 0xFF", 16, (0x1F3C, 0xFF)),
        (b"AD=0012 B:0021", 16, (0x12, 0x21)),
        (b"F1C3:0021", 16, (0xF1C3, 0x21)),
        (b"+1F3C-0021", 16, (0x1F3C, -0x21)),
        (b"12", 10, None),
        (b"", 10, None),
        (b"12.5 33.1", 10, None),
        (b"ready", 16, None),
        (b"no encoder", 10, None),
        (b"1234567890123456 7", 10, None),
    ],
)
def test_two_whole_numbers_are_found_among_labels_and_punctuation(line, base, pair):
    assert two_integers(line, base) == pair


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r", b"\r\n\r\n"])
def test_every_line_end_is_understood(end):
    p = ReplyParser()
    assert p.feed(b"1 2" + end + b"3 4" + end) == [Counts(1, 2), Counts(3, 4)]
    assert not p.pending


def test_altitude_may_come_first():
    assert ReplyParser(altitude_first=True).feed(b"1 2\n") == [Counts(az=2, alt=1)]


def test_half_a_line_waits_for_its_other_half():
    p = ReplyParser()
    assert p.feed(b"+012") == []
    assert p.feed(b"34 +05") == []
    assert p.feed(b"678\r") == [Counts(1234, 5678)]


def test_a_reply_without_line_end_is_taken_once_the_board_is_quiet():
    p = ReplyParser()
    assert p.feed(b"12 34") == []
    assert p.pending
    assert p.flush() == [Counts(12, 34)]
    assert p.bare
    assert p.flush() == []
    assert p.feed(b"12 35\n") == [Counts(12, 35)]
    assert not p.bare, "a line end has been seen: the next half line must wait longer"


def test_a_line_end_that_comes_before_the_numbers_leaves_the_reply_unended():
    p = ReplyParser()
    p.feed(b"\r\n12 34")
    assert p.flush() == [Counts(12, 34)]
    assert p.feed(b"\r\n12 35") == []
    assert p.bare
    assert p.flush() == [Counts(12, 35)]


def test_overlong_junk_is_bounded_and_the_next_line_is_clean():
    p = ReplyParser()
    for _ in range(1000):
        assert p.feed(b"9 " * 600) == []
    assert not p.pending
    assert len(p._line) <= MAX_LINE
    assert p.flush() == []
    p.feed(b"x" * 5000)
    assert p.feed(b" 1 2\n3 4\n") == [Counts(3, 4)], "the tail of the junk is no reading"


def test_what_was_not_understood_is_kept_to_be_shown():
    p = ReplyParser()
    p.feed(b"\x01hello\xff\r\n")
    assert p.last_junk == ".hello."
    assert printable(b"a" * 40) == "a" * 32 + "..."


counts = st.tuples(st.integers(-(10**11), 10**11), st.integers(-(10**11), 10**11))
junk = st.binary(max_size=40).filter(lambda b: b"\r" not in b and b"\n" not in b)
ends = st.sampled_from([b"\r", b"\n", b"\r\n"])


@st.composite
def streams(draw):
    parts = []
    for _ in range(draw(st.integers(0, 8))):
        if draw(st.booleans()):
            a, b = draw(counts)
            parts.append(f"{a} {b}".encode())
        else:
            parts.append(draw(junk) * draw(st.sampled_from([1, 1, 20])))
        parts.append(draw(ends))
    return b"".join(parts) + draw(junk)


@settings(max_examples=tries(16, 50), deadline=None)
@given(streams(), st.data())
def test_any_chopping_of_the_stream_gives_the_same_counts(stream, data):
    whole = ReplyParser()
    expected = whole.feed(stream)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=12)))
    chopped = ReplyParser()
    got = []
    for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True):
        got += chopped.feed(stream[a:b])
    assert got == expected
    assert chopped.flush() == whole.flush()


@settings(max_examples=tries(16, 50), deadline=None)
@given(st.lists(counts, max_size=10), ends, st.sampled_from([10, 16]))
def test_every_whole_line_is_read_back(pairs, end, base):
    form = "X" if base == 16 else "d"
    stream = b"".join(f"{a:{form}}\t{b:{form}}".encode() + end for a, b in pairs)
    assert ReplyParser(base=base).feed(stream) == [Counts(*p) for p in pairs]


@settings(max_examples=tries(16, 50), deadline=None)
@given(st.lists(st.binary(max_size=400), max_size=10), st.sampled_from([10, 16]))
def test_random_bytes_never_raise(pieces, base):
    p = ReplyParser(base=base)
    for piece in pieces:
        for c in p.feed(piece):
            assert isinstance(c.az, int)
        assert isinstance(p.pending, bool)
    p.flush()
