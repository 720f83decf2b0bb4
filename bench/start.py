"""How long until a command's help stands there? Run: python bench/start.py

Processor time of ``plumbstar COMMAND --help``, from nothing to the last line, beside that of
``plumbstar --version``, which loads nothing but the command line. Medians. Goal: 0.15 s each.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys

from plumbstar.cli import COMMANDS

ROUNDS = 5
PROGRAM = (sys.executable, "-c", "from plumbstar.cli import main; main()")


def spent(*words: str) -> float:
    """Processor time of one run, seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([*PROGRAM, *words], stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    asked = [(), *((name,) for name in COMMANDS), ("log", "show"), ("controller", "choose")]
    found: dict[tuple[str, ...], list[float]] = {words: [] for words in asked}
    least = []
    for _ in range(ROUNDS):
        least.append(spent("--version"))
        for words in asked:
            found[words].append(spent(*words, "--help"))
    bare = statistics.median(least)
    print(f"--version: {bare:.3f} s of processor time")
    by_time = sorted(((statistics.median(t), words) for words, t in found.items()), reverse=True)
    for seconds, words in by_time:
        said = " ".join((*words, "--help"))
        print(f"{said:24} {seconds:.3f} s, {seconds / bare:.1f} times as long")
    print(f"the slowest: {by_time[0][0]:.3f} s (goal 0.15)")


if __name__ == "__main__":
    main()
