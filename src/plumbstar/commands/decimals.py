"""Numbers on the command line as a person writes them, with a decimal comma too."""

from __future__ import annotations

import math

import click

from plumbstar.errors import UserError
from plumbstar.text.table import plain_number


class DecimalNumber(click.ParamType):  # type: ignore[type-arg] # older clicks have none
    """As float, but "1,4" and "−0,4" are numbers too; "nan" and "inf" are none."""

    name = "number"

    def convert(
        self, value: str | float, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Raises :class:`UserError`."""
        if isinstance(value, int | float):
            return float(value)
        number = plain_number(value)
        if math.isnan(number):
            name = param.opts[-1] if param is not None else "the number"
            raise UserError(f"{name} '{value}'", "a number, as 1.4", "Correct it")
        return number


NUMBER = DecimalNumber()
