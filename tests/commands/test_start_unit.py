"""The unit that starts the pages with a small computer, checked by systemd's own reader."""

import shutil
import subprocess

import pytest
from click.testing import CliRunner

from plumbstar import kit
from plumbstar.cli import group
from plumbstar.commands.start_unit import unit_text
from plumbstar.errors import UserError


def written(tmp_path, *args):
    path = tmp_path / "plumbstar.service"
    run = CliRunner().invoke(group, ["serve", *args, "--write-unit", str(path)])
    assert run.exit_code == 0, (run.output, run.exception)
    return path, run.output


def verified(path):
    reader = shutil.which("systemd-analyze")
    if reader is None:
        pytest.skip("this system is not started by systemd")
    return subprocess.run(
        [reader, "verify", "--man=no", str(path)], capture_output=True, text=True, check=False
    )


def test_it_starts_the_pages_as_they_were_asked_for(tmp_path, monkeypatch):
    place = tmp_path / "100 % a kit"
    place.mkdir()
    (place / "my kit.toml").write_text(kit.example_text())
    monkeypatch.chdir(place)
    path, said = written(
        tmp_path, "--kit", "my kit.toml", "--site", "47.2,11.6,940", "--host", "0.0.0.0",
        "--name", "scope.local", "--name", "scope", "--https",
    )  # fmt: skip
    (start,) = (x for x in path.read_text().splitlines() if x.startswith("ExecStart="))
    assert f'--kit "{str(place).replace("%", "%%")}/my kit.toml"' in start
    assert start.endswith("--host 0.0.0.0 --name scope.local --name scope --https")
    assert "systemctl enable --now plumbstar.service" in said
    assert verified(path).stderr == ""


def test_systemd_reads_every_word_back():
    text = unit_text(
        ["/bin/echo", 'a "b" \\c', "$HOME", "50%", ""], "root", ["dialout"], {"A": "b c"}
    )
    assert 'ExecStart=/bin/echo "a \\"b\\" \\\\c" $$HOME 50%% ""' in text
    assert 'Environment="A=b c"' in text


def test_a_wrong_unit_would_be_told(tmp_path):
    """The reader does find a fault where there is one."""
    wrong = tmp_path / "wrong.service"
    wrong.write_text("[Service]\nExecStart=no/such/program\n")
    assert verified(wrong).returncode != 0


@pytest.mark.parametrize(
    "option", [("--utc", "2027-01-28T18:00:00Z"), ("--record", "x"), ("--json",)]
)
def test_what_cannot_hold_at_every_start_is_refused(option, tmp_path):
    run = CliRunner().invoke(group, ["serve", *option, "--write-unit", str(tmp_path / "u")])
    assert isinstance(run.exception, UserError)
    assert option[0] in str(run.exception)
    assert not (tmp_path / "u").exists()
