"""Words: one name for a term on every screen, one way to say where and how likely."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from plumbstar.mount.terms import SCALES, TERMS, shown_in
from plumbstar.solve.credible import FarOff
from plumbstar.solve.say import far_off_sentence
from plumbstar.text import words

SRC = Path(words.__file__).parents[1]


def test_every_term_has_its_words() -> None:
    assert tuple(words.TERM_WORDS) == TERMS
    names = [words.term(t) for t in TERMS]
    assert len(set(names)) == len(names)
    assert [t for t in TERMS if shown_in(t)[1] == "percent"] == list(SCALES)


@pytest.mark.parametrize("key", TERMS)
def test_a_term_is_known_by_its_key_and_by_its_name(key: str) -> None:
    for said in (key, key.replace("_", "-"), words.term(key), words.term(key).upper()):
        assert words.term_key(said) == key


def test_no_other_table_names_the_terms() -> None:
    """A dictionary from three or more terms to short names would be a second table."""
    for path in SRC.rglob("*.py"):
        if path.name == "words.py":
            continue
        text = path.read_text(encoding="utf-8")
        if sum(text.count(repr(name).replace("'", '"')) > 0 for name in TERMS) < 3:
            continue  # it cannot: the rest need not be read as Python
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.Dict):
                continue
            pairs = [
                (k.value, v.value)
                for k, v in zip(node.keys, node.values, strict=True)
                if isinstance(k, ast.Constant) and isinstance(v, ast.Constant)
            ]
            named = [k for k, v in pairs if k in TERMS and isinstance(v, str) and len(v) < 40]
            assert len(named) < 3, f"{path.name} names {named}"


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ((135.0, 52.0), "high in the south-east"),
        ((135.0, 49.0), "halfway up in the south-east"),
        ((359.0, 20.0), "low in the north"),
        ((10.0, 85.0), "almost overhead"),
        ((270.0, -3.0), "below the horizon in the west"),
    ],
)
def test_where(place: tuple[float, float], said: str) -> None:
    assert words.where(*place) == said


def test_a_mistake_is_put_into_words_in_one_place() -> None:
    """ "Came. Wanted: wanted. Remedy." is written in errors.py and nowhere else."""
    for path in SRC.rglob("*.py"):
        if path.name != "errors.py":
            assert "Wanted: {" not in path.read_text(encoding="utf-8"), path.name


def test_a_mistake_keeps_its_advice_where_its_place_is_added() -> None:
    from plumbstar.errors import UserError
    from plumbstar.text.advice import Advice, Do

    e = UserError("outing 7", "an outing", Advice(Do.LIST_OUTINGS)).within("my.csv, line 3")
    assert str(e).startswith("my.csv, line 3: outing 7. Wanted: an outing. `plumbstar log`")
    assert e.on_pages() == "My.csv, line 3: outing 7. Wanted: an outing. The Log lists them."


def test_a_chance_is_never_certain() -> None:
    said = [words.chance(p) for p in (0.0, 0.004, 0.006, 0.553, 0.99, 1.0, None, float("nan"))]
    assert said == [
        "under 1 in 100", "under 1 in 100", "1 in 100", "55 in 100", "99 in 100", "over 99 in 100",
        "unknown", "unknown",
    ]  # fmt: skip
    assert words.about_chance(0.553) == "about 55 in 100"
    assert [words.about_chance(p) for p in (0.0, 1.0)] == ["under 1 in 100", "over 99 in 100"]


#: Another wording of a chance: "87%" after a number made to fit, "9 in 10", "x targets in 100".
OTHER_WORDING = re.compile(
    r"\{[^{}]*(?:chance|prob|trusting|odds)[^{}]*:[^{}]*%\}|\bin 10\b(?!0)|targets in 100"
)


def test_a_chance_has_one_wording() -> None:
    """Sentences say "N in 100" by :func:`words.chance`; none is made elsewhere."""
    for path in (*SRC.rglob("*.py"), *SRC.rglob("*.js")):
        found = OTHER_WORDING.findall(path.read_text(encoding="utf-8"))
        assert not found, f"{path.name}: {found}"
    planted = 'f"{step.chance:.0%}"', "9 in 10 targets", "94 targets in 100"
    assert all(OTHER_WORDING.search(p) for p in planted)


def test_a_sigma_that_is_not_nought_is_never_written_as_nought() -> None:
    assert [words.sigma_words(x) for x in (0.0, 0.002, 0.004, 0.014, 0.35)] == [
        "0.00",
        "0.01",
        "0.01",
        "0.01",
        "0.35",
    ]
    assert words.sigma_with_unit(0.003, "deg") == "0.01°"
    assert words.degrees(0.5, 0.001) == "+0.50° ± 0.01°"


#: A sigma that is written to two decimals by itself.
BARE_SIGMA = re.compile(r"(?:±|\+-) ?\{[^{}]*:\.2f\}")


def test_no_sentence_writes_a_sigma_by_itself() -> None:
    for path in SRC.rglob("*.py"):
        found = BARE_SIGMA.findall(path.read_text(encoding="utf-8"))
        assert not found, f"{path.name}: {found}"
    assert BARE_SIGMA.search('f"{stop:+.2f}° ± {sigma:.2f}"')


def test_a_body_is_spoken_of_as_people_do() -> None:
    assert [words.spoken(n) for n in ("Moon", "Sun", "Mars", "Rigel")] == [
        "the Moon",
        "the Sun",
        "Mars",
        "Rigel",
    ]
    assert words.both("Moon", "Rigel") == "the Moon and Rigel"
    assert words.both("Capella", "Capella") == "the two sightings of Capella"


def test_a_doubted_tap_on_the_moon_is_asked_about_in_english() -> None:
    far = FarOff(41.0, 3.0, False, None, 180.0, 60.0, 20.0)
    said = far_off_sentence("Moon", far, "", "")
    assert said.startswith("Was this the Moon, centred?")
    assert far_off_sentence("Rigel", far, "Sun").endswith("at the same place as for the Sun.")
