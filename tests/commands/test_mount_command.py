"""``plumbstar mount`` on a logbook of hidden mounts."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands.mount import command
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount
from plumbstar.simulate.scenario import thornback_ridge


@pytest.fixture(scope="module")
def logbook(tmp_path_factory):
    """Seven evenings at Thornback Ridge; before the fifth the stop is knocked by 0.8 deg."""
    path = tmp_path_factory.mktemp("book") / "logbook.sqlite3"
    scene = thornback_ridge()
    rng = np.random.default_rng(5)
    text = kits.example_text()
    with Logbook.open(path) as book:
        for i in range(7):
            t = scene.start.plus_seconds(i * 3 * 86400.0)
            o = book.start_outing(scene.site, scene.kit, text, t)
            terms = scene.hidden.copy()
            terms[0] = rng.uniform(-3, 3)
            terms[[2, 3]] = rng.normal(size=2) * math.radians(1.0)
            terms[INDEX["altitude_zero"]] += math.radians(-0.8 if i >= 4 else 0.0)
            mount = HiddenMount(terms, Noise.from_kit(scene.kit), rng)
            for n, (az, alt) in enumerate([(40, 35), (150, 50), (260, 40), (330, 60)]):
                book.add_sighting(o.id, mount.sight(f"star {n}", az, alt, t), "typed")
            book.end_outing(o.id, t.plus_seconds(3600.0))
    return path


def run(*args):
    return CliRunner().invoke(command, list(args))


def test_the_knocked_stop_is_named(logbook):
    result = run("--logbook", str(logbook), "--json")
    assert result.exception is None, result.output
    d = json.loads(result.output)
    assert d["outings"] == 7
    assert d["changes"][0]["term"] == "altitude_zero"
    assert d["changes"][0]["outing"] == 5
    assert d["changes"][0]["size_deg"] == pytest.approx(-0.8, abs=0.25)
    assert len(d["terms"][0]["points"]) == 7


def test_words_plot_and_remedy(logbook):
    out = run("--logbook", str(logbook)).output
    assert out.startswith("Ridge box: 7 outings.")
    assert "between outing 4 and outing 5" in out
    assert "plumbstar log mend" in out
    assert "upright stop" in out
    assert out.count("|") >= 14


def test_shims_need_the_direction(tmp_path):
    kit = tmp_path / "kit.toml"
    kit.write_text(kits.example_text().replace('adding = "unknown"', 'adding = "raises"'))
    steady = tmp_path / "steady.sqlite3"
    scene, rng = thornback_ridge(), np.random.default_rng(6)
    with Logbook.open(steady) as book:
        for i in range(4):
            t = scene.start.plus_seconds(i * 86400.0)
            o = book.start_outing(scene.site, scene.kit, kits.example_text(), t)
            mount = HiddenMount(scene.hidden, Noise.from_kit(scene.kit), rng)
            for n, (az, alt) in enumerate([(40, 35), (150, 50), (260, 40)]):
                book.add_sighting(o.id, mount.sight(f"star {n}", az, alt, t), "typed")
    unknown = json.loads(run("--logbook", str(steady), "--json").output)
    assert "stop-direction" in unknown["shims_lacking"]["remedy"]
    known = json.loads(run("--logbook", str(steady), "--kit", str(kit), "--json").output)
    # Adding raises, and the tube stands too high: take out about 0.9 deg at 250 mm.
    assert known["shims"]["wanted_mm"] == pytest.approx(-250 * math.tan(math.radians(0.9)), abs=0.7)
    assert known["jobs"][0]["term"] == "altitude_zero"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--logbook", "/nowhere/book.sqlite3"], "no logbook"),
        (["--kit", "no such kit"], "Ridge box"),
        (["--eyepiece", "5 mm"], "eyepiece"),
    ],
)
def test_mistakes(logbook, args, words):
    if "--logbook" not in args:
        args = [*args, "--logbook", str(logbook)]
    result = run(*args)
    assert isinstance(result.exception, UserError)
    assert words in str(result.exception)
