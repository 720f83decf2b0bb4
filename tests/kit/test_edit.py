"""A kit changed by ticks: what was ticked is in it, and all else as it was."""

import msgspec
import pytest

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Controller, Eyepiece, edit


def test_the_controller_is_in_it_and_all_else_stays() -> None:
    box = Controller(stars=("Capella", "Deneb"), clock=False, sign="unknown", decimals=2)
    text = edit.with_controller(kits.example_text(), box)
    kit = kits.loads(text)
    assert kit.connection.kind == "controller"
    assert kit.controller == box
    same = msgspec.structs.replace(kit, connection=kits.Connection(), controller=Controller())
    assert same == kits.example()
    again = kits.loads(edit.with_controller(text, Controller(stars=("Vega",))))
    assert again.controller.stars == ("Vega",)
    assert kits.loads(edit.without_controller(text)) == kits.example()


def test_an_empty_kit_takes_it_too() -> None:
    assert kits.loads(edit.with_controller("", Controller(clock=True))).controller.clock is True


def test_eyepieces_and_tube() -> None:
    pieces = [Eyepiece(name="25 mm", focal_length_mm=25.0, apparent_field_deg=50.0)]
    kit = kits.loads(edit.with_telescope(kits.example_text(), 200.0, 1200.0, pieces))
    assert kit.eyepiece == tuple(pieces)
    assert (kit.telescope.aperture_mm, kit.telescope.focal_length_mm) == (200.0, 1200.0)
    assert kit.telescope.min_alt_deg == 2
    assert kit.stop.lever_arm_mm == 250
    assert kits.loads(edit.with_telescope("", 200.0, 1200.0, pieces)).eyepiece == tuple(pieces)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[controller]\nclock = "perhaps"', 'true or false or "unknown"'),
        ('[controller]\nstars = "Vega"', "texts in brackets"),
        ("[controller]\ndecimals = 7", "0 to 3"),
    ],
)
def test_mistakes_are_told(text: str, words: str) -> None:
    with pytest.raises(UserError) as e:
        kits.loads(text)
    assert words in str(e.value)
