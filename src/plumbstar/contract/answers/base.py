"""What all answers share."""

from __future__ import annotations

import msgspec

from plumbstar.contract.record import Record


class Report(Record, frozen=True, kw_only=True):
    """One answer of a command, or a part of one.

    Unlike what the pages are sent, a field left :data:`msgspec.UNSET` is not in the JSON.
    """


#: A number that is there only where its unit is this one: a scale is in percent, else degrees.
InUnit = float | None | msgspec.UnsetType


def in_unit(unit: str, **values: float | None) -> dict[str, InUnit]:
    """Fields with their unit in the name: ``value=3.0`` in "deg" is ``value_deg=3.0``."""
    return {f"{name}_{unit}": value for name, value in values.items()}
