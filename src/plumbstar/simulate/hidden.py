"""The faults hidden in a simulated telescope, as a file names them: degrees and percent."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount.terms import INDEX, SCALES, TERMS
from plumbstar.text import files
from plumbstar.units import Array


def key_of(term: str) -> str:
    """The name of a term outside, with its unit: scales in percent, the others in degrees."""
    return f"{term}_percent" if term in SCALES else f"{term}_deg"


def from_mapping(raw: Mapping[str, Any]) -> Array:
    """Terms (12,), radians and pure numbers, from named values; what is left out is zero.

    Keys are the term names of mount/terms.py with ``_deg``, for the two scales with ``_percent``.
    Raises :class:`UserError` on an unknown key or a value that is no number.
    """
    terms = np.zeros(len(TERMS))
    keys = {key_of(t): t for t in TERMS}
    for key, value in raw.items():
        if key not in keys:
            raise UserError(
                f"mount term '{key}'", f"one of {', '.join(keys)}", "Correct or remove it"
            )
        term, x = keys[key], number(f"mount term '{key}'", value)
        terms[INDEX[term]] = x / 100.0 if term in SCALES else math.radians(x)
    return terms


def number(what: str, value: Any) -> float:
    """The value as a float. Raises :class:`UserError` if it is no finite number."""
    # The bounds keep out nan, infinities and whole numbers too large for a float.
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= 1e300:
        raise UserError(f"{what} = {str(value)[:40]}", "a number", "Correct it")
    return float(value)


def to_mapping(terms: Array) -> dict[str, float]:
    """The way back: named values in degrees and percent."""
    return {
        key_of(t): float(v) * 100.0 if t in SCALES else math.degrees(float(v))
        for t, v in zip(TERMS, terms, strict=True)
    }


def load(path: Path) -> Array:
    """Terms from a TOML or JSON file (by its ending). Raises :class:`UserError`."""
    text = files.read_text(path, "the mount file", "a readable TOML or JSON file")
    try:
        raw = json.loads(text) if path.suffix.lower() == ".json" else tomllib.loads(text)
    except ValueError as e:  # both decoders raise kinds of ValueError
        raise UserError(
            f"the mount file {path} ({e})",
            "a readable TOML or JSON file",
            "Check the path and file",
        ) from None
    if not isinstance(raw, dict):
        raise UserError(f"the mount file {path}", "a table of terms", "See docs/encoders.md")
    return from_mapping(raw)
