"""``plumbstar readings``: what it says of the encoders and of typed circles."""

import json

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands import readings
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError


def reading(az_deg, alt_deg):
    return Reading(az_deg, alt_deg, 0, 0, 0.0, 0.0, "live")


def test_hints_name_ticks_and_direction():
    said = readings.hints(kits.example(), reading(0.0, 90.0), reading(-359.93, 90.0))
    assert "changed by 9214, which the kit takes as 359.9 deg left" in said[0]
    assert "If you turned right, set reversed = true under [azimuth]" in said[0]
    assert "ticks_per_turn = 9214 (the kit says 9216)" in said[1]
    assert said[2].startswith("altitude: the count has not changed")


def test_typed_readings_are_explained(tmp_path):
    path = tmp_path / "k.toml"
    path.write_text("[azimuth]\nreversed = true\n")
    result = CliRunner().invoke(
        readings.command, ["--kit", str(path), "--json", "10 30", "45,5"], catch_exceptions=False
    )
    assert json.loads(result.output)["az_reading_deg"] == pytest.approx(349.5)
    with pytest.raises(UserError, match="no encoders"):
        CliRunner().invoke(readings.command, ["--kit", str(path)], catch_exceptions=False)
