"""`controller choose`: pairs of the controller's own list, in both hemispheres, and their order."""

import importlib.util
import itertools
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.controller.believed import Believed
from plumbstar.controller.nearest import knows
from plumbstar.controller.own_list import labels_of
from plumbstar.controller.ranking import over_the_sky, rank
from plumbstar.errors import UserError
from plumbstar.mount.priors import Priors
from plumbstar.sky.naming.lookup import find_target

NORTH = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T17:20:00Z"]
SOUTH = ["--site", "-31.5,21,1050", "--utc", "2027-07-09T16:45:00Z"]
LIST = ("Capella", "Hamal", "Deneb", "Polaris", "Rigel", "Acrux", "Antares", "Arcturus", "Spica",
        "Regulus")  # fmt: skip
SCRIPT = Path(__file__).parents[2] / "design" / "controller_pairs.py"


@pytest.fixture
def kit(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text(
        f'[connection]\nkind = "controller"\n[controller]\nstars = {json.dumps(LIST)}\n'
    )
    return ["--kit", str(path)]


def choose(*words):
    return CliRunner().invoke(group, ["controller", "choose", *words])


@pytest.mark.parametrize(("where", "down"), [(NORTH, "Acrux"), (SOUTH, "Capella")])
def test_pairs_are_of_its_own_list_and_ranked(kit, where, down):
    got = json.loads(choose(*where, *kit, "--json").output)
    up = {s["star"] for s in got["stars"]}
    assert up <= set(LIST)
    assert down not in up
    assert {s for p in got["pairs"] for s in p["stars"]} <= up
    chances = [p["hit_chance"] for p in got["pairs"]]
    assert all(a >= b - 0.006 for a, b in itertools.pairwise(chances))
    assert all(0 < p["hit_chance_at_zero"] < p["hit_chance"] < 1 for p in got["pairs"])
    assert chances[0] > 0.85
    told = choose(*where, *kit).output
    assert (
        f"Tell it first {' then '.join(got['pairs'][0]['stars'])}.".replace(" then ", ", then ")
        in told
    )
    assert "at its zero" in told


def test_a_pair_of_ones_own_gets_its_chance(kit):
    got = json.loads(choose(*NORTH, *kit, "--pair", "Rigel", "Capella", "--json").output)
    assert got["own_pair"]["stars"] == ["Rigel", "Capella"]
    assert got["own_pair"]["hit_chance"] < got["pairs"][0]["hit_chance"]
    assert (
        "Your pair first Rigel, then Capella"
        in choose(*NORTH, *kit, "--pair", "Rigel", "Capella").output
    )


def test_its_list_may_be_spelt_in_any_way(tmp_path):
    """Designations and other names are the same stars for the command, the pages and the card."""
    path = tmp_path / "kit.toml"
    path.write_text(
        '[connection]\nkind = "controller"\n[controller]\n'
        'stars = ["alpha Aur", "Hamal", "beta orionis", "Alpha Cru", "Capella"]\n'
    )
    words = [*NORTH, "--kit", str(path), "--pair", "Capella", "Rigel", "--json"]
    got = json.loads(choose(*words).output)
    assert got["own_pair"]["stars"] == ["Capella", "Rigel"]
    assert sorted(s["star"] for s in got["stars"]) == ["Capella", "Hamal", "Rigel"]
    # In the list, and down: that is what is said.
    run = choose(*NORTH, "--kit", str(path), "--pair", "Acrux", "Capella")
    assert "too low, too high or hidden" in str(run.exception)
    box = kits.load(path).controller
    assert labels_of(box) == ("Capella", "Hamal", "Rigel", "Acrux")
    assert knows(find_target("Rigel"), box)
    assert not knows(find_target("Vega"), box)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--pair", "Vega", "Capella"], "not in the controller's list"),
        (["--pair", "Acrux", "Capella"], "too low, too high or hidden"),
        (["--pair", "Capella", "Capella"], "Capella twice"),
        (["--target", "Achernar"], "below the horizon"),
    ],
)
def test_what_cannot_be_is_told(kit, words, told):
    run = choose(*NORTH, *kit, *words)
    assert isinstance(run.exception, UserError)
    assert told in str(run.exception)


def test_a_kit_without_a_list_is_told_and_a_list_that_is_down_refused(tmp_path):
    assert "no list of the controller's stars" in choose(*NORTH).output
    path = tmp_path / "kit.toml"
    path.write_text('[controller]\nstars = ["Acrux", "Hadar"]\n')
    run = choose(*NORTH, "--kit", str(path))
    assert "0 of the controller's 2 stars" in str(run.exception)


def test_its_order_is_that_of_playing_each_pair_through():
    """The experiment of design/ in small: three pairs that differ, hidden mounts of its own."""
    spec = importlib.util.spec_from_file_location("controller_pairs", SCRIPT)
    script = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = script
    spec.loader.exec_module(script)
    play = script.hidden_evenings()
    at = np.array([(83.0, 61.0), (263.0, 50.0), (130.0, 58.0), (84.0, 25.0)])
    said = script.stated(play, at)
    rng = np.random.default_rng(3)
    some = sorted(said, key=said.__getitem__)
    some = [some[0], some[len(some) // 2], some[-1]]
    played = [script.played(play, at[list(p)], rng, 12) for p in some]
    assert played[0] < played[-1] - 0.2
    assert np.corrcoef(played, [said[p] for p in some])[0, 1] > 0.8
    assert abs(played[-1] - said[some[-1]]) < 0.12


EVENING = """utc,event,star,number_deg,left_az_deg,left_alt_deg
2027-01-27T18:00:00Z,star,Capella,,,
2027-01-27T18:00:40Z,star,Hamal,,,
2027-01-27T18:01:00Z,number,,{number},,
"""


def test_an_earlier_evening_and_its_hand_count(kit, tmp_path):
    """What the number said of the stop raises the chance at the zero after it is known; a rough
    hand lowers what a pair is said to give."""
    before = json.loads(choose(*NORTH, *kit, "--json").output)
    file = tmp_path / "evening.csv"
    file.write_text(EVENING.format(number=0.1))
    after = json.loads(choose(*NORTH, *kit, "--earlier", str(file), "--json").output)
    assert after["pairs"][0]["hit_chance_at_zero"] > before["pairs"][0]["hit_chance_at_zero"] + 0.1
    assert after["notes"] == []
    both = choose(*NORTH, *kit, "--earlier", str(file), "--earlier", str(file)).output
    assert "counted once" in both

    own = kits.loads(Path(kit[1]).read_text())
    places = np.radians([(77.0, 63.0), (304.0, 32.0)])
    told = [
        rank(
            places, over_the_sky(), Believed(Priors.from_kit(own), hands=hands),
            np.radians(0.1), 1.0, np.radians(0.1), among=[(0, 1)],
        )[0].pushed_on
        for hands in (((1.0, 1.0),), ((1.0, 0.1), (2.0, 0.9)))
    ]  # fmt: skip
    assert told[1] < told[0] - 0.03
