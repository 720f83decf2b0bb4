"""Kit files: the example, fields, and errors that name key, value and remedy."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Eyepiece, Kit, Telescope
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, TERMS


def test_the_commented_example_is_the_demos_telescope() -> None:
    kit = kits.example()
    assert kit.telescope.focal_length_mm / kit.telescope.aperture_mm == pytest.approx(5.2)
    assert [e.focal_length_mm for e in kit.eyepiece] == [32, 17, 9]
    assert kit.azimuth.ticks_per_turn == kit.altitude.ticks_per_turn == 9216
    assert kits.example_text().count("#") > 20


def test_true_field_from_the_field_stop() -> None:
    # 2 atan(21.2 / 2400) = 1.0122 deg; telescope-optics.net/eyepiece1.htm.
    kit = Kit(telescope=Telescope(focal_length_mm=1200))
    e = Eyepiece(name="x", focal_length_mm=25, field_stop_mm=21.2)
    assert kit.true_field_deg(e) == pytest.approx(1.0122, abs=0.001)


def test_true_field_from_the_apparent_field_is_over_the_magnification() -> None:
    # 1200 mm and 25 mm make 48 times.
    kit = Kit(telescope=Telescope(focal_length_mm=1200))
    e = Eyepiece(name="x", focal_length_mm=25, apparent_field_deg=48)
    assert kit.true_field_deg(e) == pytest.approx(1.0)


def test_the_finder_is_the_widest_and_names_forgive() -> None:
    kit = kits.example()
    assert kit.finder_eyepiece().name == "32 mm"
    assert kit.eyepiece_named("9").name == "9 mm"
    assert kit.eyepiece_named(" 17 MM ").name == "17 mm"
    with pytest.raises(UserError, match="32 mm, 17 mm, 9 mm"):
        kit.eyepiece_named("40")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("colour = 1", ["'colour' = 1", "telescope"]),
        ("[telescope]\naperature_mm = 280", ["telescope.aperature_mm", "'aperture_mm'"]),
        ("[telescope]\naperture_mm = 2800000", ["2800000", "20 to 3000"]),
        ("[telescope]\naperture_mm = 'big'", ["telescope.aperture_mm' = 'big'", "number"]),
        ("centring_arcmin = nan", ["centring_arcmin", "nan"]),
        ("centring_arcmin = -1", ["centring_arcmin", "-1"]),
        ("[[eyepiece]]\nname='a'\nfocal_length_mm=10", ["'a'", "field_stop_mm"]),
        (
            "[[eyepiece]]\nname='a'\nfocal_length_mm=10\napparent_field_deg=50\n" * 2,
            ["two eyepieces", "'a'"],
        ),
        ("[[eyepiece]]\nfield_stop_mm=10", ["eyepiece[0]", "focal_length_mm"]),
        ("[telescope]\nmin_alt_deg=50\nmax_alt_deg=40", ["min_alt_deg", "max_alt_deg"]),
        ("[connection]\nkind='serial'", ["connection.device"]),
        ("[connection]\nkind='tcp'\nhost='x'", ["connection.port"]),
        ("[connection]\nkind='carrier pigeon'", ["connection.kind", "carrier pigeon", '"tcp"']),
        ("[connection]\nbase=12", ["connection.base' = 12", "10 or 16"]),
        ("aperture_mm = 280", ["'aperture_mm' = 280", "[telescope]"]),
        ("[telescope]\nname = 'x'", ["'telescope.name' = 'x'", "top of the file"]),
        ("[priors]\nthickness_mm = 2", ["'priors.thickness_mm' = 2", "[[shim]]"]),
        ("[eyepiece]\nname = 'x'", ["eyepiece", "[[double brackets]]"]),
        ("shim = [3]", ["shim[0]", "= 3"]),
        ("[connection]\nkind='tcp'\nhost='x'\nport=99999", ["port", "65535"]),
        ("[connection]\nkind='tcp'\nhost='x'\nport=5", ["azimuth.ticks_per_turn"]),
        ("[azimuth]\nticks_per_turn = true", ["azimuth.ticks_per_turn"]),
        ("telescope = 3", ["telescope"]),
        ("name = ", ["TOML"]),
    ],
)
def test_every_mistake_names_key_value_and_remedy(text: str, words: list[str]) -> None:
    with pytest.raises(UserError) as e:
        kits.loads(text, "my.toml")
    for w in words:
        assert w in str(e.value)
    assert str(e.value).startswith("my.toml")
    assert e.value.remedy


def test_a_byte_order_mark_is_no_mistake(tmp_path) -> None:
    (tmp_path / "k.toml").write_bytes(b"\xef\xbb\xbfname = 'ridge'\n")
    assert kits.load(tmp_path / "k.toml").name == "ridge"


def test_a_missing_or_unreadable_file_is_an_error_in_words(tmp_path) -> None:
    with pytest.raises(UserError, match="nowhere"):
        kits.load(tmp_path / "nowhere.toml")
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UserError, match=r"b\.toml"):
        kits.load(tmp_path / "b.toml")


def test_every_term_has_a_key_for_its_value() -> None:
    """Each value reaches the term that it is called after, and no other."""
    keys = {
        "altitude_zero_deg": "altitude_zero", "lean_north_deg": "lean_north",
        "lean_west_deg": "lean_west", "squareness_deg": "squareness", "cone_deg": "cone",
        "droop_deg": "droop", "azimuth_scale_percent": "azimuth_scale",
        "altitude_scale_percent": "altitude_scale", "runout_sin_deg": "azimuth_runout_sin",
        "runout_cos_deg": "azimuth_runout_cos", "refraction_deg": "refraction",
    }  # fmt: skip
    assert set(keys.values()) == set(TERMS) - {"azimuth_zero"}
    for key, term in keys.items():
        mean = Priors.from_kit(kits.loads(f"[priors]\n{key} = 0.5")).mean
        expected = 0.005 if key.endswith("percent") else math.radians(0.5)
        assert mean[INDEX[term]] == pytest.approx(expected)
        assert np.count_nonzero(mean) == 1
