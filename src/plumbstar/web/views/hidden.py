"""A rehearsal: that it is one, and at its end what was hidden in the simulated telescope."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from plumbstar.contract.asked import HiddenAnswer, HiddenRow
from plumbstar.contract.picture import RehearsalRecord
from plumbstar.errors import UserError
from plumbstar.mount.terms import SCALES, TERMS, shown_in
from plumbstar.simulate import hidden, reveal
from plumbstar.text import words
from plumbstar.units import Array
from plumbstar.web.evening.evening import Evening


@dataclass(frozen=True)
class HiddenTelescope:
    """``terms`` (12,), radians and pure numbers. ``own_kit``: of the observer's own kit.
    ``controller_port``: where a simulated closed controller takes orders, None without one;
    ``controller_words``: what was hidden in it. ``tube_port``: where a simulated telescope tells
    how its tube stands, None without one; ``circles``: its circles are read by eye."""

    terms: Array
    own_kit: bool
    back_port: int | None
    controller_port: int | None = None
    controller_words: str = ""
    tube_port: int | None = None
    circles: bool = False

    @staticmethod
    def load(path: Path) -> HiddenTelescope:
        """As ``demo --serve`` wrote it."""
        raw = json.loads(path.read_text(encoding="utf-8"))
        return HiddenTelescope(
            *(hidden.from_mapping(raw["hidden"]), bool(raw["own_kit"]), raw["back_port"]),
            controller_port=raw.get("controller_port"),
            controller_words=raw.get("controller_words", ""),
            tube_port=raw.get("tube_port"),
            circles=bool(raw.get("circles")),
        )

    @property
    def record(self) -> RehearsalRecord:
        """That it is a rehearsal; never what is hidden."""
        return RehearsalRecord(
            own_kit=self.own_kit,
            back_port=self.back_port,
            controller=self.controller_port is not None,
            circles=self.circles,
            eyepiece=self.tube_port is not None,
        )


def revealed(told: HiddenTelescope | None, e: Evening) -> HiddenAnswer:
    """What was hidden, beside the present fix. Raises :class:`UserError` outside a rehearsal."""
    if told is None:
        raise UserError("Nothing is hidden: this telescope is real", "", "Mend says what is known")
    if e.fix is None:
        return _beside(told, e)
    rows = tuple(
        HiddenRow(
            label=words.term(name),
            hidden=_with_unit(name, truth),
            solved=f"{_with_unit(name, value)} ± {words.sigma_words(sigma)}",
        )
        for name, value, sigma, truth in reveal.rows(e.fix, told.terms)
    )
    return HiddenAnswer(sentence=reveal.stop_sentence(e.fix, told.terms, "sighting"), rows=rows)


def _beside(told: HiddenTelescope, e: Evening) -> HiddenAnswer:
    """Without a fix: beside a closed controller what its number, the look back and the finds told,
    else nothing."""
    seen = e.beside.outlook if e.beside.in_use else None
    said = words.upper_first(told.controller_words) or "No stars were sighted: this was hidden."
    solved: dict[str, str] = {}
    if seen is not None:
        for name, mean, sigma in zip(TERMS, *seen.terms(), strict=True):
            unit = shown_in(name)[0]
            give = words.sigma_words(float(sigma) * unit)
            solved[name] = f"{_with_unit(name, float(mean) * unit)} ± {give}"
        solved["azimuth_zero"] = ""  # the controller has its own
        stop, sigma = np.degrees(seen.stop())
        way = "low" if stop > 0 else "high"
        give = words.sigma_words(float(sigma))
        said += f" It was worked out as {abs(stop):.2f}° {way}, ± {give}°."
    rows = tuple(
        HiddenRow(
            label=words.term(n),
            hidden=_with_unit(n, float(x) * shown_in(n)[0]),
            solved=solved.get(n, ""),
        )
        for n, x in zip(TERMS, told.terms, strict=True)
        if x and (seen is None or n != "azimuth_zero")
    )
    return HiddenAnswer(sentence=said, rows=rows)


def _with_unit(name: str, value: float) -> str:
    size = f"{abs(value):.2f}"
    sign = "" if not float(size) else "+" if value > 0 else "−"
    return f"{sign}{size}{' %' if name in SCALES else '°'}"
