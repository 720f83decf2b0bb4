"""Fuzz every parser, led by coverage, for a bounded time: python tools/fuzz.py [SECONDS [NAME]]

Needs PyPI atheris, which is not among the project's own requirements: pip install atheris. Each
input of tests/fuzzing.py runs in a process of its own; the counts are printed at the end. Anything
but the one clear error ends that run with the bytes that did it, kept under .artefacts/fuzz.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))
KEPT = ROOT / ".artefacts" / "fuzz"


def one(name: str, seconds: int, corpus: Path) -> None:
    """In a process of its own: libFuzzer never returns."""
    import atheris

    with atheris.instrument_imports(include=["plumbstar"]):
        from fuzzing import INPUTS, SEEDS, harmless
    for i, seed in enumerate(SEEDS[name]):
        (corpus / str(i)).write_bytes(seed)

    def take(data: bytes) -> None:
        harmless(INPUTS[name], data)

    options = [f"-max_total_time={seconds}", "-max_len=2000", f"-artifact_prefix={KEPT}/{name}-"]
    atheris.Setup(["fuzz", str(corpus), "-seed=1", "-rss_limit_mb=4000", *options], take)
    atheris.Fuzz()


def main() -> None:
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    if len(sys.argv) > 3:
        one(sys.argv[2], seconds, Path(sys.argv[3]))
        return
    from fuzzing import INPUTS

    KEPT.mkdir(parents=True, exist_ok=True)
    wrong = 0
    for name in sys.argv[2:3] or INPUTS:
        with tempfile.TemporaryDirectory() as corpus:
            done = subprocess.run(
                [sys.executable, __file__, str(seconds), name, corpus],
                capture_output=True, text=True, check=False, errors="replace",
            )  # fmt: skip
        runs = re.findall(r"Done (\d+) runs|^#(\d+)", done.stderr, re.MULTILINE)
        last = max((int(a or b) for a, b in runs), default=0)
        print(f"{name:<16}{last:>10,} inputs  {'sound' if done.returncode == 0 else 'BROKEN'}")
        if done.returncode:
            wrong += 1
            print(done.stderr[-3000:])
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
