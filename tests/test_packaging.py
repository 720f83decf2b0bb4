"""What a copy of the program carries: the licences, the credits, and all the data."""

from __future__ import annotations

import email
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAPERS = ("LICENSE", "DATA-LICENSES.md")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """(wheel, sdist), the wheel made from the sdist, without a network; the tree stays clean."""
    tree = tmp_path_factory.mktemp("tree")
    for name in ("pyproject.toml", "README.md", *PAPERS):
        shutil.copy(ROOT / name, tree)
    no = shutil.ignore_patterns("__pycache__", "*.egg-info")
    shutil.copytree(ROOT / "src", tree / "src", ignore=no)
    done = subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", tree / "out", tree],
        capture_output=True, text=True, cwd=tree, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    (wheel,), (sdist,) = (tree / "out").glob("*.whl"), (tree / "out").glob("*.tar.gz")
    return wheel, sdist


def test_the_wheel_carries_licences_credits_and_all_data(built):
    with zipfile.ZipFile(built[0]) as wheel:
        names = set(wheel.namelist())
        (papers,) = {n.split("/")[0] for n in names if n.endswith(".dist-info/METADATA")}
        about = email.message_from_bytes(wheel.read(f"{papers}/METADATA"))
        for name in PAPERS:
            assert wheel.read(f"{papers}/licenses/{name}") == (ROOT / name).read_bytes()
    assert about["License-Expression"] == PROJECT["license"]
    assert set(about.get_all("License-File")) == set(PAPERS)
    package = ROOT / "src" / "plumbstar"
    files = {
        f"plumbstar/{p.relative_to(package).as_posix()}"
        for p in package.rglob("*")
        if p.is_file() and "__pycache__" not in p.parts
    }
    assert files == {n for n in names if not n.startswith(papers)}


def test_the_source_archive_carries_licences_and_credits(built):
    with tarfile.open(built[1]) as sdist:
        (top,) = {n.split("/")[0] for n in sdist.getnames()}
        for name in (*PAPERS, "pyproject.toml", "README.md"):
            held = sdist.extractfile(f"{top}/{name}")
            assert held is not None
            assert held.read() == (ROOT / name).read_bytes()


def test_the_installed_program_prints_its_credits_without_loading_arithmetic(built, tmp_path):
    with zipfile.ZipFile(built[0]) as wheel:
        wheel.extractall(tmp_path)
    run = (
        "import sys; sys.argv = ['plumbstar', '--credits']\n"
        "from plumbstar.cli import main\n"
        "try: main()\n"
        "finally: print('numpy' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", run], cwd=tmp_path, capture_output=True, encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(tmp_path), "PYTHONUTF8": "1"}, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout == "\n\n".join((ROOT / n).read_text().strip() for n in PAPERS) + "\n"
    assert done.stderr.split() == ["False"]


def test_a_copy_without_its_papers_says_so(built, tmp_path):
    with zipfile.ZipFile(built[0]) as wheel:
        wheel.extractall(tmp_path)
    for path in tmp_path.rglob("DATA-LICENSES.md"):
        path.unlink()
    done = subprocess.run(
        [sys.executable, "-m", "plumbstar", "--credits"], cwd=tmp_path, capture_output=True,
        env={**os.environ, "PYTHONPATH": str(tmp_path)}, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 1
    assert "DATA-LICENSES.md" in done.stderr
    assert "Traceback" not in done.stderr


def test_every_data_file_is_credited():
    credits = (ROOT / "DATA-LICENSES.md").read_text()
    for path in (ROOT / "src" / "plumbstar" / "sky" / "data").iterdir():
        assert f"`{path.name}`" in credits, path.name


def test_the_licence_names_what_the_credits_name():
    """Each identifier beside the words in which the papers state that licence."""
    words = {
        "MIT": "MIT License",
        "BSD-3-Clause": "BSD-3-Clause",
        "CC-BY-4.0": "licenses/by/4.0/",
        "CC-BY-SA-3.0-IGO": "licenses/by-sa/3.0/igo/",
        "CC-BY-SA-4.0": "licenses/by-sa/4.0/",
    }
    papers = " ".join((ROOT / n).read_text() for n in PAPERS)
    assert set(PROJECT["license"].split(" AND ")) == set(words)
    assert all(said in papers for said in words.values())
    stated = set(re.findall(r"creativecommons\.org/(licenses/[a-z0-9./-]+/)", papers))
    assert stated == {said for said in words.values() if said.startswith("licenses/")}


def test_every_dependency_has_a_floor():
    lists = [PROJECT["dependencies"], *PROJECT["optional-dependencies"].values()]
    for wanted in (w for some in lists for w in some if not w.startswith("plumbstar[")):
        assert re.fullmatch(r"[a-z0-9-]+>=[0-9.]+", wanted), wanted
