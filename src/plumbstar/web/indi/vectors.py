"""What a program is told: properties, each a vector of members, written as the protocol has it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

DEVICE = "Plumbstar"
# Letters that XML 1.0 (section 2.2) cannot hold at all.
_NO_LETTERS = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&apos;"}


class State(StrEnum):
    IDLE = "Idle"
    OK = "Ok"
    BUSY = "Busy"
    ALERT = "Alert"


class Kind(StrEnum):
    TEXT = "Text"
    NUMBER = "Number"
    SWITCH = "Switch"


@dataclass(frozen=True)
class IndiMember:
    """``value`` as it is sent; ``form`` and ``span`` are a number's format, least and most."""

    name: str
    label: str
    value: str
    form: str = "%g"
    span: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class IndiVector:
    """A property. ``perm`` is ro, wo or rw; ``rule`` is a switch's."""

    kind: Kind
    name: str
    label: str
    members: tuple[IndiMember, ...]
    perm: str = "ro"
    state: State = State.IDLE
    rule: str = ""
    group: str = "Telescope"

    def defined(self, timestamp: str) -> str:
        rule = _attribute("rule", self.rule) if self.kind is Kind.SWITCH else ""
        return self._element(
            "def",
            timestamp,
            f"{_attribute('label', self.label)}{_attribute('group', self.group)}"
            f"{_attribute('perm', self.perm)}{rule}",
            [self._member("def", m) for m in self.members],
        )

    def told(self, timestamp: str, message: str = "") -> str:
        """The values as they are now."""
        return self._element(
            "set",
            timestamp,
            _attribute("message", message) if message else "",
            [self._member("one", m) for m in self.members],
        )

    def _element(self, verb: str, timestamp: str, more: str, members: list[str]) -> str:
        tag = f"{verb}{self.kind}Vector"
        return (
            f"<{tag}{_attribute('device', DEVICE)}{_attribute('name', self.name)}"
            f"{_attribute('state', self.state)}{_attribute('timeout', '60')}"
            f"{_attribute('timestamp', timestamp)}{more}>\n{''.join(members)}</{tag}>\n"
        )

    def _member(self, verb: str, m: IndiMember) -> str:
        more = ""
        if verb == "def":
            more = _attribute("label", m.label)
            if self.kind is Kind.NUMBER:
                more += (
                    f"{_attribute('format', m.form)}{_attribute('min', f'{m.span[0]:g}')}"
                    f"{_attribute('max', f'{m.span[1]:g}')}{_attribute('step', '0')}"
                )
        tag = f"{verb}{self.kind}"
        return f"  <{tag}{_attribute('name', m.name)}{more}>{_escaped(m.value)}</{tag}>\n"


def said(timestamp: str, message: str) -> str:
    """A sentence for whoever sits at the program."""
    return (
        f"<message{_attribute('device', DEVICE)}{_attribute('timestamp', timestamp)}"
        f"{_attribute('message', message)}/>\n"
    )


def gone(name: str, timestamp: str) -> str:
    """That property is not there any more."""
    return (
        f"<delProperty{_attribute('device', DEVICE)}{_attribute('name', name)}"
        f"{_attribute('timestamp', timestamp)}/>\n"
    )


def switches(names: dict[str, str], on: str) -> tuple[IndiMember, ...]:
    """Members of a switch: label by name; the one that is on, or none."""
    return tuple(
        IndiMember(name, label, "On" if name == on else "Off") for name, label in names.items()
    )


def _attribute(name: str, value: str) -> str:
    return f' {name}="{_escaped(value)}"'


def _escaped(text: str) -> str:
    return "".join(_ESCAPES.get(c, c) for c in _NO_LETTERS.sub("", text))
