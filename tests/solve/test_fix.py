"""The fix: a published run, hidden truths found again, bad sightings, weak geometry."""

from __future__ import annotations

import csv
from pathlib import Path

import msgspec
import numpy as np
import pytest
from scipy import optimize, stats

from experiments import load
from plumbstar.errors import UserError
from plumbstar.kit import Kit, PriorKeys, example
from plumbstar.mount import kinematics
from plumbstar.mount.priors import UNKNOWN, Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS, SCALES, TERMS
from plumbstar.simulate.mounts import HiddenMount, draw_terms, terms_from_deg
from plumbstar.sky.angles import between_rad
from plumbstar.solve.answer import fix_answer
from plumbstar.solve.fix import Fix, sky_grid, solve
from plumbstar.solve.misclosure import misclosures
from plumbstar.solve.posterior import Data, gauss_newton
from plumbstar.solve.say import fix_notes
from plumbstar.solve.smallsample import chi_square_survival
from samples import tries

RUN = Path(__file__).parents[1] / "authorities" / "rubin_auxtel_2020-03-15.csv"
PRIOR = Priors.from_kit(Kit())
NOISE = Noise()
ARCSEC = np.pi / 648000


def published_run() -> list[Sighting]:
    with RUN.open() as f:
        return [
            Sighting(f"pair {i}", *(float(row[c]) for c in (
                "true_az_deg", "true_alt_deg", "encoder_az_deg", "encoder_alt_deg")))
            for i, row in enumerate(csv.DictReader(f))
        ]  # fmt: skip


def random_places(rng: np.random.Generator, n: int) -> list[tuple[float, float]]:
    return list(zip(rng.uniform(0, 360, n), rng.uniform(15, 80, n), strict=True))


def test_the_published_pointing_run_is_reproduced() -> None:
    # 44 pairs printed in LSST TSTN-014 (CC BY 4.0). The fit is not published: five terms by
    # least squares, worked out apart from this program, in its signs.
    free = ("azimuth_zero", "altitude_zero", "lean_north", "lean_west", "cone")
    prior = PRIOR.only(free).flat()
    fix = solve(published_run(), prior, NOISE, noise_from_data=True)
    got = {t: (fix.mean[INDEX[t]] / ARCSEC, fix.sigma[INDEX[t]] / ARCSEC) for t in free}
    want = {
        "azimuth_zero": (239.2, 9.4),
        "altitude_zero": (-283.2, 2.6),
        "lean_north": (45.3, 3.0),
        "lean_west": (63.9, 3.0),
        "cone": (49.8, 6.1),
    }
    for term, pair in want.items():
        assert got[term] == pytest.approx(pair, abs=0.1), term
    assert fix.rms_arcsec == pytest.approx(23.96, abs=0.01)
    # Standard deviation over 44 sightings less 5 terms: both axes, so sqrt 2 of one axis.
    sd = fix.rms_arcsec * np.sqrt(44 / 39)
    assert sd == pytest.approx(25.45, abs=0.01)
    # The publisher's own 24-term model of the same run: leans 44.26 and 69.89 arcsec.
    assert abs(got["lean_north"][0] - 44.26) < 3 * got["lean_north"][1]
    assert abs(got["lean_west"][0] - 69.89) < 3 * got["lean_west"][1]
    assert not fix.set_aside


def test_with_refraction_left_over_the_run_is_fitted_as_by_the_published_table() -> None:
    """The open run again, and six terms of a published table, in its first-order forms.

    The forms: J. Mangum's ALMA pointing slides of 2006-07-26, slide 12 (index errors, tilts,
    collimation, and refraction as the cotangent of altitude), signs as in docs/conventions.md.
    """
    run = published_run()
    A, E, az, alt = np.radians(
        [[s.az_reading_deg, s.alt_reading_deg, s.true_az_deg, s.true_alt_deg] for s in run]
    ).T
    o, one = np.zeros_like(A), np.ones_like(A)
    across = np.stack(
        [np.cos(E), o, -np.sin(E) * np.sin(A), -np.sin(E) * np.cos(A), one, o], axis=-1
    )
    up = np.stack([o, one, -np.cos(A), np.sin(A), o, -1 / np.tan(E)], axis=-1)
    gap = np.concatenate([np.angle(np.exp(1j * (az - A))) * np.cos(E), alt - E])
    table, left = np.linalg.lstsq(np.concatenate([across, up]), gap, rcond=None)[:2]

    free = ("azimuth_zero", "altitude_zero", "lean_north", "lean_west", "cone", "refraction")
    prior = Priors.from_kit(Kit(priors=PriorKeys(refraction_sigma_deg=0.1))).only(free).flat()
    fix = solve(run, prior, NOISE, noise_from_data=True)
    got = np.array([fix.mean[INDEX[t]] for t in free]) / ARCSEC
    assert got == pytest.approx(table / ARCSEC, abs=0.6)
    assert fix.rms_arcsec == pytest.approx(np.sqrt(left[0] / len(run)) / ARCSEC, abs=0.02)
    # This run calls for it, at 3.7 sigma: with it the RMS is 22.2 arcsec for 24.0 without.
    assert got[-1] == pytest.approx(-9.2, abs=0.1)
    assert fix.sigma[INDEX["refraction"]] / ARCSEC == pytest.approx(2.47, abs=0.05)


def test_hidden_mounts_are_found_as_often_as_stated() -> None:
    """Truth inside the 68 % interval 68 % of the time, and every decile of hit chance honest.

    ``design/honest_chance.py`` plays 20,000 mounts.
    """
    mounts, pushes = tries(100, 600), 12
    played = load("honest_chance").play(mounts, pushes, seed=11)
    # Three times the binomial sigma, about each of the terms.
    rate = played.inside.mean(axis=0)
    assert np.all(np.abs(rate - 0.683) < 3 * np.sqrt(0.683 * 0.317 / mounts)), rate
    gap = played.hit - played.stated
    for low, n, said, found in played.deciles():
        # Within 2 points, or within what so few pushes (correlated by mount) can show.
        assert abs(said - found) < max(0.02, 2.5 * np.sqrt(0.25 * 4 / n)), (low, n, said, found)
    # No mistake was made here, and a stated chance reckons with mistakes: it lies a little under,
    # 1 to 2 points; and three times what the mounts scatter.
    scatter = gap.mean(axis=1).std() / np.sqrt(mounts)
    assert -3 * scatter < gap.mean() < 0.02 + 3 * scatter
    assert scatter < 0.008 * np.sqrt(600 / mounts)


def test_it_agrees_with_scipy_least_squares() -> None:
    rng = np.random.default_rng(4)
    for _ in range(10):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        sightings = hidden.sight_all(random_places(rng, 6))
        fix = solve(sightings, PRIOR, NOISE, find_bad=False)
        data = Data.of(sightings, NOISE)
        free = np.flatnonzero(PRIOR.sigma > 0)
        info = np.sqrt(PRIOR.information[free])

        def cost(x: np.ndarray, data=data, free=free, info=info) -> np.ndarray:
            terms = np.zeros(N_TERMS)
            terms[free] = x
            d = kinematics.direction(data.readings, terms)
            r = np.einsum("nij,nj->ni", data.basis, d) * np.sqrt(data.weight)
            return np.concatenate([r.ravel(), info * x])

        best = optimize.least_squares(cost, fix.mean[free] + 1e-3, xtol=1e-14, ftol=1e-14)
        assert best.x == pytest.approx(fix.mean[free], abs=1e-7)
        theirs = np.sqrt(np.diag(np.linalg.inv(best.jac.T @ best.jac)))
        assert theirs == pytest.approx(fix.sigma[free], rel=1e-3)


def test_a_wrong_star_among_several_is_found_and_named() -> None:
    rng = np.random.default_rng(8)
    found = doubted = wrong = 0
    runs = tries(30, 150)
    for _ in range(runs):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        n = int(rng.integers(4, 7))
        sightings = hidden.sight_all(random_places(rng, n))
        bad = int(rng.integers(n))
        s = sightings[bad]
        turn = rng.uniform(0, 2 * np.pi)
        off = rng.uniform(4, 9)
        alt = min(85.0, s.true_alt_deg + off * np.sin(turn))
        az = s.true_az_deg + off * np.cos(turn) / np.cos(np.radians(alt))
        sightings[bad] = Sighting("wrong", az, alt, s.az_reading_deg, s.alt_reading_deg)
        fix = solve(sightings, PRIOR, NOISE)
        found += fix.set_aside == (bad,)
        wrong += bool(fix.set_aside) and fix.set_aside != (bad,)
        doubted += not fix.set_aside and bool(fix.suspects)
        if fix.set_aside == (bad,):
            assert any("wrong" in n and "set aside" in n for n in fix_notes(fix))
    assert found > 0.9 * runs, (found, doubted, wrong)
    assert wrong <= 0.02 * runs


def test_doubt_about_which_is_bad_does_not_depend_on_the_azimuth_zero() -> None:
    """Azimuth zeros either side of 180 degrees are near each other."""
    results = []
    for zero in (0.0, 179.9, -179.9):
        rng = np.random.default_rng(3)
        terms = terms_from_deg(azimuth_zero=zero, altitude_zero=0.4, lean_north=0.5)
        rows = HiddenMount(terms, NOISE, rng).sight_all([(20, 30), (140, 60), (260, 45)])
        s = rows[1]
        rows[1] = Sighting("odd", s.true_az_deg + 5, s.true_alt_deg + 2, s.az_reading_deg,
                           s.alt_reading_deg)  # fmt: skip
        fix = solve(rows, PRIOR, NOISE)
        assert not fix.set_aside
        assert fix.suspects
        results.append(np.degrees(fix.sigma[0]))
    assert max(results) < 1.3 * min(results) < 10


def test_good_sightings_are_seldom_accused() -> None:
    rng = np.random.default_rng(9)
    accused, runs = 0, tries(60, 400)
    for _ in range(runs):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        fix = solve(hidden.sight_all(random_places(rng, int(rng.integers(3, 7)))), PRIOR, NOISE)
        accused += bool(fix.set_aside)
    assert accused <= 0.02 * runs


def test_one_sighting_settles_the_azimuth_zero_and_nothing_else() -> None:
    fix = solve([Sighting("A", 100, 40, 10, 39)], PRIOR, NOISE)
    assert fix.from_data[INDEX["azimuth_zero"]] == 1.0
    assert fix.from_data[INDEX["squareness"]] < 0.05
    # One altitude against stop and lean: the stop's share follows from the priors' variances.
    assert 0.05 < fix.from_data[INDEX["altitude_zero"]] < 0.5
    assert np.isfinite(fix.covariance).all()
    assert "Sight one more" in fix_notes(fix)[0]
    assert fix.misclosures == ()


@pytest.mark.parametrize(
    "places",
    [
        [(100, 30), (100, 70)],  # one azimuth
        [(100, 30), (280, 70)],  # opposite azimuths: one plane
        [(100, 40), (100, 40)],  # one star twice
        [(100, 40), (100.001, 40.001), (100, 40)],
        [(0, 87), (10, 86.5)],  # almost overhead
        [(359.99, 20), (0.01, 50), (0.0, 35)],  # across the wrap
    ],
)
def test_degenerate_sets_are_solved_and_keep_an_honest_sigma(places) -> None:
    rng = np.random.default_rng(5)
    inside = []
    mounts = tries(20, 60)
    for _ in range(mounts):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        fix = solve(hidden.sight_all(places), PRIOR, NOISE)
        gap = fix.mean - hidden.terms
        inside.append(np.abs(gap[1:4]) <= 1.64 * fix.sigma[1:4])
    assert np.mean(inside) > 0.9 - 0.08 * np.sqrt(60 / mounts)
    same_azimuth = places[0][0] == places[1][0]
    if same_azimuth:
        assert any(n.startswith("Weak") for n in fix_notes(fix)), fix_notes(fix)


def test_sightings_exactly_overhead_do_no_harm() -> None:
    # Cone keeps the tube out of the last fraction of a degree; a typed 90 must not crash.
    fix = solve([Sighting("A", 0, 90, 0, 90), Sighting("B", 10, 90, 200, 89.9)], PRIOR, NOISE)
    assert np.isfinite(fix.covariance).all()
    assert 0 <= float(fix.hit_chance(120, 45, 1.0)) <= 1


def test_flat_priors_that_cannot_be_settled_are_refused_in_words() -> None:
    with pytest.raises(UserError, match="without priors") as e:
        solve([Sighting("A", 100, 40, 10, 39)], PRIOR.flat(), NOISE)
    assert "flat-priors" in e.value.remedy
    with pytest.raises(UserError, match="no sighting yet"):
        solve([], PRIOR, NOISE)


def test_any_azimuth_zero_and_any_order_give_the_same_fix() -> None:
    rng = np.random.default_rng(2)
    for zero in (-179.9, -90, 0, 45, 179.99):
        terms = terms_from_deg(azimuth_zero=zero, altitude_zero=1, lean_north=1, cone=0.2)
        rows = HiddenMount(terms, NOISE, rng).sight_all(random_places(rng, 5))
        a, b = solve(rows, PRIOR, NOISE), solve(rows[::-1], PRIOR, NOISE)
        assert a.mean == pytest.approx(b.mean, abs=1e-6)
        off = np.degrees(np.angle(np.exp(1j * (a.mean[0] - terms[0]))))
        assert off == pytest.approx(0, abs=1.5)


def test_a_reading_display_that_folds_is_the_same_as_one_that_runs_on() -> None:
    rng = np.random.default_rng(6)
    terms = terms_from_deg(azimuth_zero=20, altitude_zero=0.5, azimuth_scale=0.002)
    hidden = HiddenMount(terms, Noise(1e-5), rng)
    hidden.reading[0] = np.radians(300)
    rows = hidden.sight_all([(330, 30), (10, 40), (60, 35), (100, 50), (350, 60)])
    assert max(s.az_reading_deg for s in rows) > 360
    folded = [
        Sighting(s.star, s.true_az_deg, s.true_alt_deg, s.az_reading_deg % 360, s.alt_reading_deg)
        for s in rows
    ]
    a, b = solve(rows, PRIOR, Noise(1e-5)), solve(folded, PRIOR, Noise(1e-5))
    assert a.mean[INDEX["azimuth_scale"]] == pytest.approx(0.002, abs=1e-4)
    assert a.mean[1:] == pytest.approx(b.mean[1:], abs=1e-7)


def test_held_terms_stay_and_share_is_told() -> None:
    rng = np.random.default_rng(3)
    rows = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng).sight_all(random_places(rng, 4))
    fix = solve(rows, PRIOR.only(["azimuth_zero", "altitude_zero"]), NOISE, find_bad=False)
    assert fix.mean[INDEX["cone"]] == 0
    assert fix.sigma[INDEX["cone"]] == 0
    assert fix.from_data[INDEX["cone"]] == 0
    with pytest.raises(UserError, match="a term 'tilt'"):
        PRIOR.only(["tilt"])


def test_misclosure_is_measured_minus_true() -> None:
    (m,) = misclosures([Sighting("A", 0, 0, 0, 0), Sighting("B", 50, 0, 51.5, 0)])
    assert (m.true_deg, m.misclosure_deg) == pytest.approx((50, 1.5))


def test_the_evidence_is_the_integral_it_stands_for() -> None:
    """Laplace evidence against direct integration, where one term is free (so it can be done)."""
    prior = Priors(np.zeros(N_TERMS), np.zeros(N_TERMS))
    prior.sigma[INDEX["altitude_zero"]] = np.radians(1.0)
    rows = [Sighting("A", 30, 40, 30.02, 39.2), Sighting("B", 120, 35, 120.05, 34.3)]
    data = Data.of(rows, NOISE)
    got = gauss_newton(data, prior).log_evidence
    x = np.radians(np.linspace(-4, 4, 20001))
    terms = np.zeros((len(x), 1, N_TERMS))
    terms[:, 0, INDEX["altitude_zero"]] = x
    d = kinematics.direction(data.readings, terms)
    r = np.einsum("nij,knj->kni", data.basis, d)
    log_like = np.sum(-0.5 * data.weight * r**2 + 0.5 * np.log(data.weight / (2 * np.pi)), (1, 2))
    whole = np.trapezoid(np.exp(log_like) * stats.norm.pdf(x, 0, np.radians(1.0)), x)
    assert got == pytest.approx(np.log(whole), abs=1e-3)


@pytest.mark.parametrize("dof", [1, 2, 3, 7, 12, 85])
def test_chi_square_tail_agrees_with_scipy(dof: int) -> None:
    for x in (0.0, 0.3, 2.0, dof, 3.0 * dof):
        assert chi_square_survival(x, dof) == pytest.approx(stats.chi2.sf(x, dof), abs=1e-12)


def test_the_dict_has_the_names_promised() -> None:
    kit = example()
    fix = solve([Sighting("A", 100, 40, 10, 39), Sighting("B", 10, 60, 280, 58)],
                Priors.from_kit(kit), Noise.from_kit(kit))  # fmt: skip
    d = msgspec.to_builtins(fix_answer(fix))
    assert set(d["terms"]) == set(TERMS[:9])
    for name, row in d["terms"].items():
        unit = "percent" if name in SCALES else "deg"
        assert set(row) == {f"value_{unit}", f"sigma_{unit}", "from_data"}
        assert 0 <= row["from_data"] <= 1
    assert d["terms"]["azimuth_scale"]["sigma_percent"] == pytest.approx(
        100 * fix.sigma[INDEX["azimuth_scale"]]
    )
    assert len(d["misclosures"]) == 1


def test_noise_of_a_kit_holds_the_rounding_of_the_circles() -> None:
    kit = example()
    grain = 360 / 9216 / np.sqrt(12)
    assert np.degrees(Noise.from_kit(kit).reading_az) == pytest.approx(grain)
    var = Noise.from_kit(kit).variances(np.radians([0.0, 60.0]))
    assert np.degrees(np.sqrt(var[0])) == pytest.approx([np.hypot(0.1, grain)] * 2)
    assert np.degrees(np.sqrt(var[1, 0])) == pytest.approx(np.hypot(0.1, grain / 2))


def test_unknown_prior_is_only_for_what_has_no_prior() -> None:
    assert np.isinf(PRIOR.sigma[0])
    assert PRIOR.sigma[0] == UNKNOWN
    assert isinstance(solve([Sighting("A", 1, 40, 1, 40)], PRIOR, NOISE), Fix)


def test_a_folding_display_is_pushed_to_the_same_place_as_a_counter_that_runs_on() -> None:
    fix_rows = [(330, 30), (10, 40), (60, 35)]
    hidden = HiddenMount(
        terms_from_deg(azimuth_zero=20, azimuth_scale=0.003), Noise(1e-5), np.random.default_rng(6)
    )
    hidden.reading[0] = np.radians(300)
    rows = hidden.sight_all(fix_rows)
    on = solve(rows, PRIOR, Noise(1e-5))
    folded = solve(
        [Sighting(s.star, s.true_az_deg, s.true_alt_deg, s.az_reading_deg % 360, s.alt_reading_deg)
         for s in rows], PRIOR, Noise(1e-5),
    )  # fmt: skip
    a = on.reading_for(40.0, 45.0, near_az_deg=rows[-1].az_reading_deg)
    b = folded.reading_for(40.0, 45.0, near_az_deg=rows[-1].az_reading_deg % 360)
    assert a[0] > 360
    assert b[0] == pytest.approx(a[0] - 360, abs=1e-6)
    assert folded.pointing_of(*b) == pytest.approx([40.0, 45.0], abs=1e-6)
    assert on.pointing_of(*a) == pytest.approx([40.0, 45.0], abs=1e-6)


def test_nonsense_is_called_nonsense_and_takes_no_scapegoat() -> None:
    rng = np.random.default_rng(0)
    rows = [
        Sighting(str(i), *rng.uniform((0, 10), (360, 80)), *rng.uniform((0, 10), (360, 80)))
        for i in range(8)
    ]
    fix = solve(rows, PRIOR, NOISE)
    assert not fix.set_aside
    assert "no single one explains it" in " ".join(fix_notes(fix))
    assert fix.mean_hit_chance(1.0) < 0.2


def test_of_two_that_contradict_each_other_neither_is_believed() -> None:
    """A wrong star among two cannot be found, but the stated chance must not be a boast."""
    rng = np.random.default_rng(14)
    stated, stated_if_believed, hit, doubted = [], [], [], 0
    runs = tries(20, 120)
    for _ in range(runs):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        rows = hidden.sight_all([(40, 35), (140, 55)])
        s, turn = rows[1], rng.uniform(0, 2 * np.pi)
        off = rng.uniform(4, 9)
        alt = s.true_alt_deg + off * np.sin(turn)
        az = s.true_az_deg + off * np.cos(turn) / np.cos(np.radians(s.true_alt_deg))
        rows[1] = Sighting("wrong", az, alt, s.az_reading_deg, s.alt_reading_deg)
        fix = solve(rows, PRIOR, NOISE)
        assert not fix.set_aside
        doubted += bool(fix_notes(fix))
        stated.append(fix.mean_hit_chance(1.0))
        stated_if_believed.append(solve(rows, PRIOR, NOISE, find_bad=False).mean_hit_chance(1.0))
        landed = hidden.push_to(*fix.reading_for(250, 50))
        u = kinematics.unit(*np.radians(np.array([(250, 50), landed])).T)
        hit.append(np.degrees(between_rad(u[0], u[1])) < 0.5)
    # Only what misfits can be doubted: a wrong star that happens to fit is beyond two sightings.
    assert doubted > 0.5 * runs
    assert np.mean(stated) < np.mean(stated_if_believed) - 0.1


def test_a_mount_far_off_is_not_called_careless_centring() -> None:
    rng = np.random.default_rng(2)
    terms = terms_from_deg(azimuth_zero=30, altitude_zero=6.0, lean_north=0.4)
    rows = HiddenMount(terms, NOISE, rng).sight_all(
        [(20, 30), (140, 60), (260, 45), (80, 40), (320, 65)]
    )
    fix = solve(rows, PRIOR, NOISE)
    assert not fix.set_aside
    assert "further off than the kit expects" in " ".join(fix_notes(fix))
    assert "disagree" not in " ".join(fix_notes(fix))


def test_the_mean_chance_is_that_of_pushes_from_the_last_star():
    """A hand that went round the sky is a turn away from the middle of its sightings."""
    rng = np.random.default_rng(12)
    hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    rows = hidden.sight_all([(10, 40), (130, 40), (250, 40), (10, 41), (130, 42)])
    fix = solve(rows, PRIOR, NOISE, find_bad=False)
    az, alt = (np.degrees(g) for g in sky_grid(20.0))
    last = rows[-1].az_reading_deg
    walked = fix.hit_chance(az, alt, 0.3, last)
    assert fix.mean_hit_chance(0.3) == pytest.approx(float(walked.mean()), abs=1e-3)
    assert abs(fix.reading_for(40.0, 30.0)[0] - last) <= 180.0
