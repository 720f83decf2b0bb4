"""A kit changed by ticks: what was ticked is in it, and all else as it was."""

import msgspec
import pytest

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Controller, Eyepiece, edit

BOX = Controller(stars=("Capella", "Deneb"), clock=False, sign="unknown", decimals=2)
WIRED = """name = "wired"

[azimuth]
ticks_per_turn = 9216

[altitude]
ticks_per_turn = 9216

[connection]
# the board in the lid
kind = "serial"
device = "/dev/ttyUSB3"
baud = 19200
poll = "?\\r"

[controller]
# its list, as far as the door
stars = [
  "Vega",
  "Sirius",  # never up in time
]
clock = true

[stop]
lever_arm_mm = 300
"""


def with_box(text: str, box: Controller = BOX) -> str:
    return edit.with_controller(text, kits.loads(text), box)


def test_the_controller_is_in_it_and_all_else_stays() -> None:
    text = with_box(kits.example_text())
    kit = kits.loads(text)
    assert kit.connection.kind == "controller"
    assert kit.controller == BOX
    same = msgspec.structs.replace(kit, connection=kits.Connection(), controller=Controller())
    assert same == kits.example()
    again = kits.loads(with_box(text, Controller(stars=("Vega",))))
    assert again.controller.stars == ("Vega",)
    left = kits.loads(edit.without_controller(text, kit))
    assert msgspec.structs.replace(left, controller=Controller()) == kits.example()
    assert left.controller == BOX  # its list was ticked once and for all


def test_how_the_encoders_are_wired_is_kept_and_comes_back() -> None:
    text = with_box(with_box(WIRED))  # twice: what it was before is not what it is now
    kit = kits.loads(text)
    assert (kit.connection.kind, kit.controller) == ("controller", BOX)
    for line in (
        'device = "/dev/ttyUSB3"', "baud = 19200", 'poll = "?\\r"', "# the board in the lid",
        "# its list, as far as the door", "lever_arm_mm = 300",
    ):  # fmt: skip
        assert line in text
    back = kits.loads(edit.without_controller(text, kit))
    before = kits.loads(WIRED)
    assert back.connection.kind == "serial"
    assert msgspec.structs.replace(back.connection, otherwise="typed") == before.connection
    assert (
        msgspec.structs.replace(back, connection=before.connection, controller=before.controller)
        == before
    )


def test_an_empty_kit_takes_it_too() -> None:
    assert kits.loads(with_box("", Controller(clock=True))).controller.clock is True


def test_catalogues_are_understood_as_people_call_them() -> None:
    assert kits.loads("").controller.catalogues == ("M", "NGC", "IC")
    kit = kits.loads('[controller]\ncatalogues = ["messier", "ngc", "Caldwell", "planets"]')
    assert kit.controller.catalogues == ("M", "NGC", "C", "planets")


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
        ('[controller]\ncatalogues = ["HD"]', 'each "M" or "NGC" or "IC" or "C" or "planets"'),
    ],
)
def test_mistakes_are_told(text: str, words: str) -> None:
    with pytest.raises(UserError) as e:
        kits.loads(text)
    assert words in str(e.value)


@pytest.mark.parametrize(
    "six",
    [
        "[telescope]\naperture_mm = 254\nfocal_length_mm = 1250\n[[eyepiece]]\n"
        "focal_length_mm = 30\napparent_field_deg = 70\n",
        "telescope = { aperture_mm = 254, focal_length_mm = 1250 }\n"
        "eyepiece = [{ focal_length_mm = 30, apparent_field_deg = 70 }]\n"
        "azimuth = { ticks_per_turn = 8192 }\naltitude = { ticks_per_turn = 8192 }\n"
        "stop = { counts_from_zero = true }\n"
        'connection = { kind = "serial", device = "/dev/ttyUSB0", pushed = true }\n',
    ],
)
def test_six_lines_are_a_kit_and_may_be_changed_by_ticks(six: str) -> None:
    assert len(six.splitlines()) == 6
    kit = kits.loads(six)
    assert [e.name for e in kit.eyepiece] == ["30 mm"]
    told = edit.with_name(edit.with_telescope(six, 254.0, 1250.0, kit.eyepiece), 'A "box"')
    told = edit.with_readings(told, kit.azimuth, kit.altitude, kit.connection, None)
    assert kits.loads(told) == msgspec.structs.replace(kit, name='A "box"')
    boxed = edit.with_controller(six, kit, Controller(stars=("Vega",)))
    left = edit.without_controller(boxed, kits.loads(boxed))
    assert kits.loads(left).connection.kind == kit.connection.kind


def test_a_new_kit_file_is_nobodys_telescope() -> None:
    text = kits.template_text()
    written = [x for x in text.splitlines() if x and not x.startswith("#")]
    assert len(written) == 6
    plain = msgspec.structs.replace(kits.loads(text), eyepiece=())
    assert plain == kits.Kit()
    # Every key that it mentions is one, with a value that is taken.
    every = "\n".join(x.removeprefix("# ") for x in text.split("heading above\n")[1].splitlines())
    head = "[telescope]\n" + every
    kits.loads(head)
