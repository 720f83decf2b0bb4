"""The simulated controller: what it shows is what its three ways of sharing must give."""

import math

import httpx
import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.commands.closed import telescope as closed_telescope
from plumbstar.errors import UserError
from plumbstar.mount.terms import N_TERMS
from plumbstar.simulate.closed_list import STARS, known_to, spelt
from plumbstar.simulate.closed_page import ControllerPage
from plumbstar.simulate.closed_telescope import ClosedTelescope, Lines, Order, hidden_ways
from plumbstar.simulate.closed_terminal import WIDE, drawn, order_of
from plumbstar.simulate.mounts import terms_from_deg
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant

SCENE = thornback_ridge()


class Hours:
    def __init__(self):
        self.t = Instant.parse("2027-01-28T18:00:00Z")

    def __call__(self):
        return self.t

    def go(self, seconds):
        self.t = self.t.plus_seconds(seconds)


def telescope(terms, times, **more):
    return ClosedTelescope(SCENE.site, times, terms, centring_arcmin=0.0, decimals=6, **more)


def taught(tube, times, a="Capella", b="Hamal", wait=40):
    tube.obey(Order(do="upright"))
    for name in (a, b):
        times.go(wait)
        tube.obey(Order(do="centre", name=name))
        lines = tube.obey(Order(do="star", name=name))
    return lines


def left(tube, name):
    lines = tube.obey(Order(do="object", name=name))
    return lines.left_az_deg, lines.left_alt_deg


@pytest.mark.parametrize("clock", [True, False])
def test_a_perfect_mount_is_led_to_every_object(clock):
    times = Hours()
    tube = telescope(np.zeros(N_TERMS), times, clock=clock)
    number = taught(tube, times, wait=0 if not clock else 40).number_deg
    assert abs(number) < 0.05  # the air
    for name in ("M 42", "M 31", "M 81"):
        tube.obey(Order(do="object", name=name))
        tube.obey(Order(do="zero"))
        assert tube.truth().off_deg < 0.1
    times.go(3600)  # it counts on
    tube.obey(Order(do="object", name="M 42"))
    tube.obey(Order(do="zero"))
    assert tube.truth().off_deg < 0.15


def test_without_a_clock_slow_hands_are_counted_as_an_error():
    numbers = []
    for clock in (True, False):
        times = Hours()
        numbers.append(
            taught(telescope(np.zeros(N_TERMS), times, clock=clock), times, wait=120).number_deg
        )
    assert abs(numbers[0]) < 0.05
    assert abs(numbers[1]) > 0.2


def test_the_look_back_shows_how_it_shares():
    """The contradiction lies along the line between the stars: all of it left at the second when
    the first is exact, half when halved, none when the second is exact."""
    terms = terms_from_deg(altitude_zero=1.0, azimuth_zero=20.0)
    sizes = {}
    for favoured in ("first", "halved", "second"):
        times = Hours()
        tube = telescope(terms, times, favoured=favoured)
        number = taught(tube, times).number_deg
        az, alt = left(tube, "Hamal")
        where = math.degrees(tube._reading[1])
        sizes[favoured] = math.hypot(az * math.cos(math.radians(where)), alt) / abs(number)
    assert abs(sizes["first"] - 1.0) < 0.03
    assert abs(sizes["halved"] - 0.5) < 0.03
    assert sizes["second"] < 0.001


def test_the_number_sees_the_stop_as_the_cosine_rule_says():
    times = Hours()
    tube = telescope(terms_from_deg(altitude_zero=0.5), times)
    n = taught(tube, times).number_deg
    times = Hours()
    free = taught(telescope(np.zeros(N_TERMS), times), times).number_deg
    (a, b), (c, d) = (
        np.radians(place_of(find_target(s), times(), SCENE.site)) for s in ("Capella", "Hamal")
    )
    cos_t = np.sin(b) * np.sin(d) + np.cos(b) * np.cos(d) * np.cos(a - c)
    g = np.sin(b + d) * (1 - np.cos(a - c)) / np.sqrt(1 - cos_t**2)
    assert n - free == pytest.approx(g * 0.5, abs=0.02)


def test_its_list_has_coordinates_of_its_own_that_are_right():
    for name, (ra, dec) in known_to(STARS).items():
        star = find_target(name)
        across = math.remainder(ra - star.ra_deg, 360.0) * math.cos(math.radians(dec))
        assert 0.0 < math.hypot(across, dec - star.dec_deg) < 2.0 / 60.0, name


def test_a_kit_with_a_list_shares_names_with_it_but_neither_spellings_nor_coordinates():
    kit = kits.loads(
        """[connection]
kind = "controller"
[controller]
stars = ["Alpheratz", "Capella", "Alkaid", "Rigil Kentaurus"]
"""
    )
    tube = closed_telescope(SCENE.site, None, np.zeros(N_TERMS), kit, 1)
    assert tube.box.stars == ("Sirrah", "Capella", "Alkaid", "Alpha Cen")
    for name, (ra, dec) in tube.box.objects.items():
        star = find_target(name)
        assert (ra, dec) != (star.ra_deg, star.dec_deg), name
        assert ra * 4.0 == pytest.approx(round(ra * 4.0, 1), abs=1e-9)
        assert dec * 60.0 == pytest.approx(round(dec * 60.0), abs=1e-9)
    assert known_to(["M 42", "nothing of the kind"]) == {"M 42": (83.825, -323 / 60)}
    assert spelt(["alf And", "Sirrah"]) == ("Sirrah",)


def test_what_it_cannot_do_it_says():
    times = Hours()
    tube = telescope(np.zeros(N_TERMS), times)
    with pytest.raises(UserError, match="waits for the stop"):
        tube.obey(Order(do="star", name="Capella"))
    tube.obey(Order(do="upright"))
    with pytest.raises(UserError, match="not in the controller's list"):
        tube.obey(Order(do="star", name="Alcor"))
    with pytest.raises(UserError, match="two stars"):
        tube.obey(Order(do="object", name="M 42"))
    with pytest.raises(UserError, match="order"):
        tube.obey(Order(do="dance"))
    tube.obey(Order(do="star", name="Capella"))
    with pytest.raises(UserError, match="Capella, too"):
        tube.obey(Order(do="star", name="Capella"))


def test_a_slip_moves_what_is_left_and_not_the_tube():
    times = Hours()
    tube = telescope(np.zeros(N_TERMS), times)
    taught(tube, times)
    before = left(tube, "M 42")
    tube.obey(Order(do="slip", right_deg=0.0, up_deg=2.0))
    after = left(tube, "M 42")
    assert after[1] - before[1] == pytest.approx(-2.0, abs=1e-4)


def test_a_look_through_the_eyepiece_tells_whether_the_object_is_in_it():
    times = Hours()
    tube = telescope(np.zeros(N_TERMS), times)
    taught(tube, times)
    tube.obey(Order(do="object", name="M 42"))
    seen = tube.obey(Order(do="centre", name="M 42")).eye
    assert seen.startswith("In the eyepiece (1.0° across): M 42, 0.")
    seen = tube.obey(Order(do="push", up_deg=0.8)).eye
    assert seen == "In the eyepiece (1.0° across): no M 42."
    assert drawn(tube.lines()).splitlines()[-1].strip() == seen


def test_its_page_shows_the_two_lines_and_takes_orders():
    page = ControllerPage(telescope(np.zeros(N_TERMS), Hours()))
    page.start()
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{page.port}") as client:
            assert "Simulated controller" in client.get("/").text
            assert client.post("/order", json={"do": "look"}).json()["top"] == "tube to stop"
            assert client.post("/order", json={"do": "upright"}).json()["top"] == "star 1 of 2"
            said = client.post("/order", json={"do": "star", "name": "Alcor"}).json()
            assert "list" in said["error"]
            assert said["top"] == "star 1 of 2"
            assert "no order" in client.post("/order", content=b"{").json()["error"]
            assert client.get("/truth").json()["favoured"] == "halved"
            assert "Capella" in client.get("/stars").json()
            # All that a terminal's words do is there: what the phone asks for is a push on.
            for do in ("upright", "centre", "star", "object", "zero", "push", "slip"):
                assert f'data-do="{do}"' in client.get("/").text
    finally:
        page.close()


def test_words_become_orders_and_what_is_no_order_is_refused():
    assert order_of("stop") == Order(do="upright")
    assert order_of("  centre  Rigil   Kentaurus ") == Order(do="centre", name="Rigil Kentaurus")
    assert order_of("push −0,4 0.2") == Order(do="push", right_deg=-0.4, up_deg=0.2)
    assert order_of("") == Order(do="look")
    for typed, told in (
        ("dance", "one of stop"), ("star", "without a name"), ("push 1", "right and up"),
        ("push a b", "right and up"), ("push 1 nan", "right and up"), ("slip 1 900", "right and"),
    ):  # fmt: skip
        with pytest.raises(UserError, match=told):
            order_of(typed)


def test_the_display_is_drawn_in_a_frame_of_one_width():
    rows = drawn(Lines("a name that is too long for it", "> 0.4  ^ 0.2", error="no")).splitlines()
    assert {len(r) for r in rows[:4]} == {WIDE + 4}
    assert "> 0.4  ^ 0.2" in rows[2]
    assert rows[4].strip() == "no"


def test_what_is_hidden_follows_the_seed_and_every_way_occurs():
    assert hidden_ways(3) == hidden_ways(3)
    drawn_ways = [hidden_ways(s) for s in range(60)]
    assert {w for w, _ in drawn_ways} == {"first", "halved", "second", "between"}
    assert {c for _, c in drawn_ways} == {True, False}
