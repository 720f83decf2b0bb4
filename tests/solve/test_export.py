"""A fix written out is enough for another program: worked out again from the JSON alone."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner
from scipy.spatial.transform import Rotation

from plumbstar.cli import group
from plumbstar.contract.answers.exported import FixExport
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import TERMS
from plumbstar.solve.export import export_fix
from plumbstar.solve.fix import Fix, solve
from plumbstar.text.words import TERM_WORDS

ARCSEC = np.radians(1 / 3600)
RUN = Path(__file__).parents[1] / "authorities" / "rubin_auxtel_2020-03-15.csv"
#: A mount with every fault at once, larger than any real one.
TRUTH = np.radians([40.0, 1.2, 0.8, -1.1, 0.5, 0.7, 0.3, 0.2, 0.3, 0.4, -0.3, 0.05])


def direction_from(export: dict, az_deg: float, alt_deg: float) -> np.ndarray:
    """Where a counted reading points, by what the JSON says and scipy's rotations; none of ours."""
    t = {term["key"]: term["value"] for term in export["terms"]}
    A, E = np.radians([az_deg, alt_deg])
    A1 = A * (1 + t["azimuth_scale"]) + t["azimuth_zero"]
    A1 += t["azimuth_runout_sin"] * np.sin(A) + t["azimuth_runout_cos"] * np.cos(A)
    E1 = E * (1 + t["altitude_scale"]) + t["altitude_zero"]
    E2 = E1 - t["droop"] * np.cos(E1) - t["refraction"] / np.tan(E1)
    forward = np.array([0.0, 1.0, 0.0])
    tube = Rotation.from_euler("x", E2) * Rotation.from_euler("z", -t["cone"])
    chain = (
        Rotation.from_rotvec([-t["lean_north"], -t["lean_west"], 0.0])
        * Rotation.from_euler("z", -A1)
        * Rotation.from_euler("y", t["squareness"])
        * tube
    )
    return chain.apply(forward)


@pytest.fixture(scope="module")
def fix() -> Fix:
    rng = np.random.default_rng(12)
    sightings = []
    for k, (az, alt) in enumerate([(20, 40), (70, 50), (110, 25), (200, 60), (300, 35), (350, 70)]):
        d = kinematics.direction(np.radians([az, alt]), TRUTH)
        true = np.degrees(kinematics.az_alt(d)) + rng.normal(0, 0.01, 2)
        sightings.append(Sighting(f"star {k}", float(true[0]), float(true[1]), az, alt))
    sigma = np.radians([180.0, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.2])
    sigma[0] = np.inf
    return solve(sightings, Priors(np.zeros(len(TERMS)), sigma), Noise(np.radians(0.01)))


def test_a_direction_is_worked_out_again_from_the_json_alone(fix: Fix) -> None:
    export = json.loads(msgspec.json.encode(export_fix(fix)))
    for s in export["sightings"]:
        counted = s["az_reading_counted_deg"], s["alt_reading_counted_deg"]
        got = direction_from(export, *counted)
        assert np.linalg.norm(got - kinematics.direction(np.radians(counted), fix.mean)) < 1e-12
        # And so the residuals: the true place less the solved one.
        az, alt = np.radians([s["true_az_deg"], s["true_alt_deg"]])
        right = np.array([np.cos(az), -np.sin(az), 0.0])
        up = np.array([-np.sin(alt) * np.sin(az), -np.sin(alt) * np.cos(az), np.cos(alt)])
        assert -(right @ got) / ARCSEC == pytest.approx(s["residual_across_arcsec"], abs=1e-2)
        assert -(up @ got) / ARCSEC == pytest.approx(s["residual_up_arcsec"], abs=1e-2)
    last = export["sightings"][-1]  # a later reading counts within half a turn of this one
    want = fix.direction_of(last["az_reading_deg"], last["alt_reading_deg"])
    assert np.linalg.norm(got - want) < 1e-12


def test_the_covariance_says_how_a_direction_may_be_off(fix: Fix) -> None:
    """By differences of the other program's direction, against our own covariance of a push."""
    export = json.loads(msgspec.json.encode(export_fix(fix)))
    az, alt = np.radians([150.0, 45.0])
    a, e = fix.reading_for(150.0, 45.0)  # counted: within half a turn of the middle
    columns = []
    for i in range(len(TERMS)):
        moved = json.loads(json.dumps(export))
        moved["terms"][i]["value"] += 1e-6
        columns.append((direction_from(moved, a, e) - direction_from(export, a, e)) / 1e-6)
    J = kinematics.tangent_basis(np.array(az), np.array(alt)) @ np.array(columns).T
    got = J @ np.array(export["covariance"]) @ J.T + np.eye(2) * fix.landing_noise.centring**2
    assert got == pytest.approx(fix.pointing_covariance(np.array(az), np.array(alt)), rel=1e-3)


def test_every_term_is_there_in_order_with_unit_and_sign(fix: Fix) -> None:
    export = export_fix(fix)
    assert [t.key for t in export.terms] == list(TERMS)
    assert [t.positive_means for t in export.terms] == [TERM_WORDS[t].positive for t in TERMS]
    assert {t.unit for t in export.terms} == {"rad", "1"}
    assert export.terms[0].prior_sigma is None  # nothing was known of it: no infinity in JSON
    assert np.shape(export.covariance) == (len(TERMS), len(TERMS))


def test_the_command_writes_it(tmp_path: Path) -> None:
    out = tmp_path / "fix.json"
    done = CliRunner().invoke(group, ["fix", str(RUN), "--export", str(out)])
    assert done.exit_code == 0, done.output
    assert str(out) in done.output
    assert msgspec.json.decode(out.read_bytes(), type=FixExport).format == "plumbstar fix 1"
    refused = CliRunner().invoke(group, ["fix", str(RUN), "--export", str(tmp_path / "no" / "x")])
    assert refused.exit_code != 0
    assert "Traceback" not in refused.output
