"""What a request asks: its two identifiers and its parameters, read strictly.

The names of a GET's parameters may be in any case. Those of a PUT come in its form-encoded body and
must be written as the standard writes them; only ClientID and ClientTransactionID are forgiven.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from urllib.parse import parse_qsl

from plumbstar.web.alpaca.errors import Malformed

_IDS = ("clientid", "clienttransactionid")
UINT32 = 0xFFFFFFFF
FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True)
class AlpacaRequest:
    """One request. ``client`` and ``transaction`` are 0 when they were not given."""

    client: int
    transaction: int
    parameters: dict[str, str]
    any_case: bool

    def text(self, name: str) -> str:
        """That parameter. Raises Malformed when it is missing."""
        found = self.parameters.get(name.lower() if self.any_case else name)
        if found is None or found == "":
            raise Malformed(f"The parameter {name} is missing, empty or misspelt")
        return found

    def number(self, name: str) -> float:
        text = self.text(name)
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value) or "_" in text:
            raise Malformed(f"The parameter {name} is '{text[:40]}', which is no number")
        return value

    def integer(self, name: str) -> int:
        value = _integer(self.text(name))
        if value is None:
            raise Malformed(f"The parameter {name} is '{self.text(name)[:40]}', no whole number")
        return value

    def flag(self, name: str) -> bool:
        text = self.text(name).lower()
        if text not in ("true", "false"):
            raise Malformed(f"The parameter {name} is '{text[:40]}', neither True nor False")
        return text == "true"


def _integer(text: str) -> int | None:
    text = text.strip()  # strips more than int() does: \x1c to \x1f too
    digits = text.removeprefix("-")
    return int(text) if digits.isascii() and digits.isdigit() and len(digits) < 12 else None


def read_query(query: bytes) -> AlpacaRequest:
    """A GET's. Raises Malformed."""
    return _asked(_pairs(query), any_case=True)


def read_form(body: bytes, content_type: str) -> AlpacaRequest:
    """A PUT's. Raises Malformed."""
    if body and content_type.partition(";")[0].strip().lower() != FORM:
        raise Malformed(f"A PUT's parameters come as {FORM}")
    return _asked(_pairs(body), any_case=False)


def _pairs(raw: bytes) -> list[tuple[str, str]]:
    try:
        return parse_qsl(
            raw.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=50
        )
    except ValueError:  # not ASCII, not UTF-8 once decoded, or too many
        raise Malformed("The parameters could not be read") from None


def _asked(pairs: list[tuple[str, str]], any_case: bool) -> AlpacaRequest:
    ids = dict.fromkeys(_IDS, 0)
    parameters: dict[str, str] = {}
    for name, value in pairs:
        low = name.lower()
        if low in ids:
            found = _integer(value) if value else 0
            if found is None or not 0 <= found <= UINT32:
                raise Malformed(f"{name} is '{value[:40]}', no whole number from 0 to {UINT32}")
            ids[low] = found
            continue
        key = low if any_case else name
        if key in parameters:
            raise Malformed(f"The parameter {name} came twice")
        parameters[key] = value
    return AlpacaRequest(ids["clientid"], ids["clienttransactionid"], parameters, any_case)
