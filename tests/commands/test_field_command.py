"""``plumbstar field``: the answer first, JSON, the drawing, and errors in words."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar.commands.field import command
from plumbstar.errors import UserError

AT = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T18:30:00Z"]


def run(*args: str) -> str:
    done = CliRunner().invoke(command, [*args, *AT], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_sentence_comes_first_then_north() -> None:
    rows = run("M 42").splitlines()
    assert rows[0].startswith("A scatter of stars in a pale haze")
    assert rows[1].startswith("North is at the ")
    assert "turned; M 42 (Orion Nebula) is" in rows[2]
    assert rows[-1].startswith("Stars are drawn to magnitude 10, where the star list ends")


def test_the_view_asked_for_goes_before_the_kits() -> None:
    turned = json.loads(run("M 42", "--json"))
    upright = json.loads(run("M 42", "--json", "--view", "upright"))
    mirrored = json.loads(run("M 42", "--json", "--view", "mirrored"))
    assert (turned["view"], upright["view"]) == ("turned", "upright")
    assert upright["north"] == pytest.approx([-x for x in turned["north"]])
    assert (turned["mirrored"], mirrored["mirrored"]) == (False, True)
    assert upright["stars"][0]["x"] == -turned["stars"][0]["x"]


def test_how_far_the_telescope_reaches_is_by_the_kits_eye(tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"

    def reach(eye: str) -> float:
        kit.write_text(f"[telescope]\naperture_mm = 200\nfocal_length_mm = 1200\n{eye}")
        answer = json.loads(run("M 42", "--json", "--kit", str(kit)))
        return float(answer["telescope_limit_mag"])

    # 2.5 log10(2.0 / 1.4): what practice is worth to the eye (targets/eye.py).
    assert reach('[eye]\npractice = "much"\n') - reach("") == pytest.approx(0.387, abs=0.001)


def test_drawing_and_finder(tmp_path: Path) -> None:
    path = tmp_path / "x.svg"
    out = run("Capella", "--finder", "--svg", str(path), "--dress", "day")
    assert "By eye, 8.00° across" in out
    assert "Almaaz" in out
    assert f"Wrote {path}." in out
    assert ET.parse(path).getroot().tag.endswith("svg")
    assert "#fff" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["Sun"], "blinds"),
        (["M 42", "--eyepiece", "5"], "an eyepiece '5'"),
        (["M 42", "--svg", "/no/such/folder/x.svg"], "/no/such/folder/x.svg"),
        (["Nowhere at all"], "Nothing is known as"),
    ],
)
def test_mistakes(args: list[str], words: str) -> None:
    with pytest.raises(UserError, match=words):
        CliRunner().invoke(command, [*args, *AT], catch_exceptions=False)
