"""The experiment of design/ in small: mounts and controllers that share nothing with the tool."""

import importlib.util
import sys
from pathlib import Path

import numpy as np

from samples import tries

SCRIPT = Path(__file__).parents[2] / "design" / "beside_a_controller.py"


def test_the_look_back_brings_objects_into_the_field_as_often_as_said() -> None:
    spec = importlib.util.spec_from_file_location("beside_a_controller", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = script
    spec.loader.exec_module(script)
    rng = np.random.default_rng(11)
    pair = np.array(script.PAIRS["opposite azimuths"])
    runs = [script.evening(pair, rng) for _ in range(tries(6, 10))]
    hit, said = (np.array([r[k] for r in runs]).mean(axis=(0, 2)) for k in (0, 1))
    back, four = 2, 4
    assert hit[0] < 0.75
    assert hit[back] > 0.85
    assert hit[four] > 0.95
    assert abs(hit[back] - said[back]) < 0.1
