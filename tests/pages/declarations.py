"""The contract as a JSON schema, and as the declarations that the pages' scripts are checked by."""

from __future__ import annotations

import functools
import importlib
import inspect
import json
import pkgutil
from pathlib import Path
from typing import Any

import msgspec
from msgspec import UNSET

import plumbstar.contract
from plumbstar.contract.record import Record
from plumbstar.web.live import actions

ROOT = Path(__file__).parent.parent.parent
SCHEMA = ROOT / "docs" / "contract.schema.json"


def records() -> list[type[Record]]:
    """Every record of the contract, by name."""
    for found in pkgutil.walk_packages(plumbstar.contract.__path__, "plumbstar.contract."):
        importlib.import_module(found.name)
    out: list[type[Record]] = []
    waiting = list(Record.__subclasses__())
    while waiting:
        kind = waiting.pop()
        waiting += kind.__subclasses__()
        if kind.__module__.startswith("plumbstar.contract"):  # not one with words of its own
            out.append(kind)
    return sorted(set(out), key=lambda kind: kind.__name__)


@functools.cache
def schema() -> dict[str, Any]:
    """What is sent: one definition a record. Nothing else is in any of them."""
    kinds = records()
    _, parts = msgspec.json.schema_components(kinds)
    for kind in kinds:
        part = parts[kind.__name__]
        # As written: msgspec 0.23 does so itself, those before keep the source's indentation.
        if kind.__doc__:
            part["description"] = inspect.cleandoc(kind.__doc__)
        # A field with a default is sent all the same, but for one that is left unset.
        left_out = {f.encode_name for f in msgspec.structs.fields(kind) if f.default is UNSET}
        part["required"] = sorted(set(part["properties"]) - left_out)
        part["additionalProperties"] = False
        for field in part["properties"].values():
            field.pop("default", None)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What the pages and --json are given",
        "$defs": dict(sorted(parts.items())),
    }


def schema_text() -> str:
    """As it is kept in docs/contract.schema.json."""
    return json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"


def declarations() -> str:
    """One TypeScript interface a record, and for each action what it takes and answers."""
    out = [_interface(name, part) for name, part in schema()["$defs"].items()]
    _, bodies = msgspec.json.schema_components([body for body, _ in actions.TABLE.values()])
    for name, body in bodies.items():
        out.append(_interface(f"Asked{name}", body, "Asked"))
    table = "".join(f"  {n}: Asked{body.__name__};\n" for n, (body, _) in actions.TABLE.items())
    return "\n".join([*out, f"interface Actions {{\n{table}}}\n"])


def _interface(name: str, part: dict[str, Any], prefix: str = "") -> str:
    required = part.get("required", [])
    fields = "".join(
        f"  {key}{'' if key in required else '?'}: {_type(of, prefix)};\n"
        for key, of in part["properties"].items()
    )
    return f"interface {name} {{\n{fields}}}\n"


_PLAIN = {"string": "string", "number": "number", "integer": "number", "boolean": "boolean"}


def _type(of: dict[str, Any], prefix: str = "") -> str:
    if "$ref" in of:
        return prefix + str(of["$ref"]).rpartition("/")[2]
    if "anyOf" in of:
        return " | ".join(dict.fromkeys(_type(x, prefix) for x in of["anyOf"]))
    if "enum" in of:
        return " | ".join(json.dumps(x) for x in of["enum"])
    if of.get("type") == "null":
        return "null"
    if of.get("type") == "array":
        if "prefixItems" in of:
            return f"[{', '.join(_type(x, prefix) for x in of['prefixItems'])}]"
        return f"({_type(of['items'], prefix)})[]"
    if of.get("type") == "object":
        inside = of.get("additionalProperties", {})
        return f"Record<string, {_type(inside, prefix) if inside else 'unknown'}>"
    return _PLAIN[of["type"]]
