"""On the phone, advice names places on the pages, never a command to type."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plumbstar.diagnose import checks
from plumbstar.diagnose.checks.verdict import Number
from plumbstar.errors import UserError
from plumbstar.text.advice import CHECK_TITLES, Advice, Do
from plumbstar.web.views.figures import figures

SRC = Path(__file__).parents[2] / "src" / "plumbstar"
#: What leads nowhere on a phone: a command, an option, a document of the source tree.
NOT_ON_A_PHONE = re.compile(r"`plumbstar|(?<![\w-])--[a-z]|docs/|kit file")
#: Rooms whose sentences never reach the pages: they are for the terminal.
TERMINAL_ONLY = (
    "commands/", "cli.py", "simulate/", "controller/", "diagnose/explain/coach.py",
    "text/advice.py", "web/programs/", "web/alpaca/", "web/indi/", "web/door/",
)  # fmt: skip
#: What is said only while the server is started, or of a file that was named in a terminal.
AT_THE_START = (
    "kit/file.py", "logbook/exchange.py", "logbook/correct.py", "logbook/own_file.py",
    "logbook/rescue.py", "mount/sightings_file.py", "clock/gps.py",
)  # fmt: skip


def test_advice_is_said_once_for_each_place() -> None:
    title = checks.find("stop-repeat").title
    check = Advice(Do.DO_A_CHECK, "stop-repeat")
    assert str(check) == "`plumbstar check stop-repeat`"
    assert check.on_pages() == f"Mend, Checks, “{title}”"
    assert Advice(Do.WEIGH_CAUSES).on_pages() == "What went wrong? weighs the causes"
    once = Advice(Do.LIST_OUTINGS, first="It was left as it is.")
    assert once.on_pages() == "It was left as it is. The Log lists them"


def test_the_parts_of_mend_are_called_as_they_are_named() -> None:
    """Sent to "Mend, Bench checks", nobody found such a part."""
    static = SRC / "web" / "static"
    parts = re.search(r"const PARTS = (.*);", (static / "mend.js").read_text("utf-8"))
    assert parts is not None
    names = set(re.findall(r', "([^"]+)"\]', parts[1]))
    files = [*static.glob("*.js"), SRC / "text" / "advice.py"]
    said = {x for f in files for x in re.findall(r"Mend, ([A-Z]\w+ ?\w*)", f.read_text("utf-8"))}
    assert len(said) > 2
    assert {x for x in said if not any(x == n or x.startswith(f"{n} ") for n in names)} == set()


def test_an_error_carries_it() -> None:
    e = UserError("outing 7", "an outing of this logbook", Advice(Do.LIST_OUTINGS))
    assert str(e).endswith("`plumbstar log` lists them")
    assert e.remedy_on_pages == "The Log lists them"
    assert UserError("a", "b", "Do c").remedy_on_pages == "Do c"


def test_what_happened_is_told_without_what_was_wanted() -> None:
    """Only what was typed could have been otherwise."""
    e = UserError("There is nothing to undo in this outing", "", "Nothing was changed")
    assert str(e) == "There is nothing to undo in this outing. Nothing was changed"
    assert e.on_pages() == "There is nothing to undo in this outing. Nothing was changed."


@pytest.mark.parametrize("do", Do)
def test_every_advice_has_its_words_in_both_places(do: Do) -> None:
    """Whatever the modules behind the pages may advise, no command reaches the phone."""
    advice = Advice(do, "stop-repeat:readings")
    assert str(advice)
    told = advice.on_pages()
    assert told
    assert not NOT_ON_A_PHONE.search(told), told
    assert "{" not in str(advice) + told


def test_no_sentence_behind_the_pages_names_a_command() -> None:
    """Commands stand in the advice and nowhere else that reaches a page."""
    looked = 0
    for path in sorted(SRC.rglob("*.py")):
        if str(path.relative_to(SRC)).startswith((*TERMINAL_ONLY, *AT_THE_START)):
            continue
        text = re.sub(r'""".*?"""', "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        for line in text.splitlines():
            if line.strip().startswith("#") or "@click" in line:
                continue
            looked += 1
            for said in re.findall(r'"([^"\n]*)"', line):
                if re.fullmatch(r"--[a-z-]+", said):
                    continue  # an argument of a program that is started, no sentence
                assert not NOT_ON_A_PHONE.search(said), (path.name, line)
    assert looked > 10_000


def test_the_checks_are_called_as_advice_calls_them() -> None:
    assert {c.id: c.title for c in checks.CHECKS} == CHECK_TITLES


def test_degrees_are_a_sign_on_the_pages() -> None:
    """In the sentences of the rooms whose words the pages show."""
    for path in (*SRC.glob("diagnose/**/*.py"), *SRC.glob("collimate/*.py")):
        text = re.sub(r'""".*?"""', "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        lines = [x for x in text.splitlines() if not x.strip().startswith("#")]
        for said in re.findall(r'"([^"\n]*)"', "\n".join(lines)):
            assert not re.search(r"[\d}] deg\b| \+/- ", said), (path.name, said)


def test_figures_are_those_that_the_interval_has_earned() -> None:
    arm = Number("lever_arm_mm", "lever arm it implies", 279.4921, "mm", 210.73, 414.83)
    assert figures(arm) == "lever arm it implies: 279 mm (211 to 415)"
    stop = Number("s", "spread of the stop", 0.05081, "deg", 0.0304, 0.146)
    assert figures(stop) == "spread of the stop: 0.05° (0.03 to 0.15)"
    change = Number("c", "change", -0.0004, "deg", -0.059, 0.058)
    assert figures(change) == "change: 0.00° (−0.06 to 0.06)"
    assert figures(Number("f", "field stop", 38.1721, "mm")) == "field stop: 38.2 mm"
    assert figures(Number("n", "largest", 0.0, "deg")) == "largest: 0°"
    chance = Number("two_stars", "hit chance, two good stars", 0.9961, "", is_chance=True)
    assert figures(chance) == "hit chance, two good stars: over 99 in 100"
