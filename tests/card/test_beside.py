"""The card beside a closed controller: its stars, lines to fill in, pushes that come true."""

import dataclasses
import functools
import re

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.card import make, phone
from plumbstar.card.paper import content
from plumbstar.kit import Controller, edit
from plumbstar.mount import kinematics
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate.closed_telescope import ClosedTelescope, Order
from plumbstar.simulate.scenario import saltpan_flat, thornback_ridge
from plumbstar.sky.angles import between_rad
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of

from .rig import a_route

OWN = ("Aldebaran", "Capella", "Deneb", "Hamal", "Procyon", "Dubhe", "Antares", "Spica", "Vega")
OWN += ("Arcturus", "Achernar", "Rigil Kentaurus", "Altair")


def kit():
    text = kits.example_text()
    box = Controller(stars=OWN, clock=True, sign="measured-minus-true", decimals=2)
    return kits.loads(edit.with_controller(text, kits.loads(text), box))


SCENES = {"north": thornback_ridge(), "south": saltpan_flat()}


@functools.cache
def card_of(where, names):
    scene = SCENES[where]
    route = a_route(scene, names)
    return make(
        scene.start, scene.site, kit(), scene.skyline, catalogue.load(),
        field_deg=1.5, field_name="32 mm", route=route,
    )  # fmt: skip


def degrees(words):
    """ "0.4° left, 0.8° down" as right and up."""
    signs = {"right": (1, 0), "left": (-1, 0), "up": (0, 1), "down": (0, -1)}
    total = np.zeros(2)
    for size, way in re.findall(r"([\d.]+)° (\w+)", words):
        total += float(size) * np.array(signs[way])
    return total


def stop_off(deg):
    """A mount with nothing else wrong."""
    terms = np.zeros(N_TERMS)
    terms[INDEX["altitude_zero"]] = np.radians(deg)
    return terms


def told_its_stars(scene, card, way, terms):
    """A simulated controller, told the card's first stars: the tube, its clock, and what its
    display showed last."""
    pair = [s.name for s in next(h for h in card.hours if h.stars).stars]
    at = [card.hours[0].instant]
    tube = ClosedTelescope(
        scene.site, lambda: at[0], terms, favoured=way, decimals=2, centring_arcmin=0.0
    )
    tube.obey(Order(do="upright"))
    for name in pair:
        tube.obey(Order(do="centre", name=name))
        lines = tube.obey(Order(do="star", name=name))
        at[0] = at[0].plus_seconds(30.0)
    return tube, at, lines


@pytest.mark.parametrize("where", list(SCENES))
@pytest.mark.parametrize(("way", "column"), [("second", 0), ("halved", 1), ("first", 2)])
def test_the_pushes_come_true_at_a_simulated_controller(where, way, column):
    """Only the stop is off, so the number and the card's table must give nearly all of it."""
    scene = SCENES[where]
    names = ("M 7", "M 22", "M 8") if where == "south" else ("M 37", "M 42", "M 81")
    card = card_of(where, names)
    tube, at, lines = told_its_stars(scene, card, way, stop_off(1.2))
    for stop in card.stops:
        at[0] = stop.start
        tube.obey(Order(do="object", name=stop.name.split(" (")[0]))
        tube.obey(Order(do="centre", name=stop.name.split(" (")[0]))
        seen = tube.obey(Order(do="look"))
        wanted = -np.array([seen.left_az_deg, seen.left_alt_deg])
        told = lines.number_deg * degrees(stop.on[column])
        cos = np.array([np.cos(np.radians(stop.alt_deg)), 1.0])
        off, before = np.hypot(*((wanted - told) * cos)), np.hypot(*(wanted * cos))
        assert off < max(0.3, 0.35 * before), (stop.name, wanted, told)


def test_pairs_are_of_its_list_and_there_are_lines_to_fill_in():
    card = card_of("north", ("M 37", "M 42"))
    assert {s.name for h in card.hours for s in h.stars} <= set(OWN)
    made = content(card, "both")
    assert made.beside[0] == "On the stop"
    assert made.beside[-1].startswith("Look back: ")
    assert len(made.stops[0].on) == 3
    page = phone.html(card)
    assert "Push on from the controller’s zero" in page
    plain = dataclasses.replace(card, beside=False)
    assert content(plain, "both").beside == ()


@pytest.mark.parametrize("way", ["second", "halved", "first"])
def test_what_the_controller_does_not_know_is_reached_from_its_neighbour(way):
    """The card names what to choose instead, and what it says lands on the object."""
    scene = SCENES["north"]
    card = card_of("north", ("M 37", "Saturn"))
    known, unknown = card.stops
    assert any("°" in cell for cell in known.on)
    assert known.chosen == ""
    assert "what is to be added goes for any number" in content(card, "both").beside_note
    found = re.fullmatch(r"Choose (.+) on it and add (.+)", unknown.chosen)
    assert found, unknown.chosen
    assert f"{unknown.chosen}." in phone.html(card)
    neighbour = found[1].split(" (")[0]
    terms = stop_off(0.8)
    tube, at, lines = told_its_stars(scene, card, way, terms)
    at[0] = unknown.start
    tube.obey(Order(do="object", name=neighbour))
    tube.obey(Order(do="zero"))
    column = ("second", "halved", "first").index(way)
    on = lines.number_deg * degrees(unknown.on[column]) + degrees(found[2])
    tube.obey(Order(do="push", right_deg=on[0], up_deg=on[1]))
    place = np.radians(place_of(find_target("Saturn"), at[0], scene.site))
    off = between_rad(kinematics.direction(tube._reading, terms), kinematics.unit(*place))
    assert np.degrees(off) < 0.3
