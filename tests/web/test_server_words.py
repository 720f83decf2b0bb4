"""On the phone, advice names places on the pages, never a command to type."""

from __future__ import annotations

import re
from pathlib import Path

from plumbstar.diagnose.checks import checks
from plumbstar.diagnose.checks.judging import Number
from plumbstar.web.views.page_words import figures, for_the_page

SRC = Path(__file__).parents[2] / "src" / "plumbstar"


def test_commands_become_places() -> None:
    title = checks.find("stop-repeat").title
    assert for_the_page("Do `plumbstar check stop-repeat` first.") == (
        f"Do Mend, Checks, “{title}” first."
    )
    said = for_the_page({"notes": ("`plumbstar why` weighs the causes.", 3, None)})
    assert said == {"notes": ["Mend, Tonight weighs the causes.", 3, None]}
    assert for_the_page("nothing to change") == "nothing to change"


def test_every_command_that_advice_names_has_its_place() -> None:
    """Whatever the modules behind the pages may say, no command reaches the phone."""
    behind = [*SRC.glob("explain/*.py"), *(SRC / f"{m}.py" for m in (
        "fix", "shims", "checks", "judging", "worth", "guide"))]  # fmt: skip
    behind += [*SRC.glob("collimate/*.py"), *SRC.glob("history/*.py")]
    behind = [p for p in behind if p.name != "coach.py"]  # reads numbers at the command line only
    named = 0
    for path in behind:
        text = path.read_text(encoding="utf-8")
        for line in re.findall(r'"[^"\n]*(?:`plumbstar | --[a-z])[^"\n]*"', text):
            plain = re.sub(r"\{[^}]*\}", "stop-repeat", line)
            named += 1
            told = for_the_page(plain)
            assert "`plumbstar" not in told, (path.name, line)
            assert " --" not in told, (path.name, line)
    assert named > 5


def test_degrees_and_documents() -> None:
    assert for_the_page("It leans 1.4 deg (see docs/shims.md).") == "It leans 1.4°."
    assert for_the_page('[stop] adding = "raises" or "lowers" in the kit file') == (
        'adding = "raises" or "lowers" under [stop] in the kit'
    )
    assert for_the_page("data:image/jpeg;base64,1 deg") == "data:image/jpeg;base64,1 deg"


def test_figures_are_those_that_the_interval_has_earned() -> None:
    arm = Number("lever_arm_mm", "lever arm it implies", 279.4921, "mm", 210.73, 414.83)
    assert figures(arm) == "lever arm it implies: 279 mm (211 to 415)"
    stop = Number("s", "spread of the stop", 0.05081, "deg", 0.0304, 0.146)
    assert figures(stop) == "spread of the stop: 0.05° (0.03 to 0.15)"
    change = Number("c", "change", -0.0004, "deg", -0.059, 0.058)
    assert figures(change) == "change: 0.00° (−0.06 to 0.06)"
    assert figures(Number("f", "field stop", 38.1721, "mm")) == "field stop: 38.2 mm"
    assert figures(Number("n", "largest", 0.0, "deg")) == "largest: 0°"
    chance = Number("two_stars", "hit chance, two good stars", 0.9961, "")
    assert figures(chance) == "hit chance, two good stars: 99 in 100"
