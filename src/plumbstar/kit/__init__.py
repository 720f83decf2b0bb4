"""Kit files: telescope, eyepieces, encoders, stop and priors, in one TOML file."""

from plumbstar.kit.file import (
    check,
    example,
    example_text,
    from_mapping,
    load,
    loads,
    template_text,
)
from plumbstar.kit.model import (
    Circle,
    Connection,
    Controller,
    Eye,
    Eyepiece,
    EyepieceAt,
    Filter,
    Kit,
    PriorKeys,
    Shim,
    Stop,
    Telescope,
    View,
)

__all__ = [
    "Circle",
    "Connection",
    "Controller",
    "Eye",
    "Eyepiece",
    "EyepieceAt",
    "Filter",
    "Kit",
    "PriorKeys",
    "Shim",
    "Stop",
    "Telescope",
    "View",
    "check",
    "example",
    "example_text",
    "from_mapping",
    "load",
    "loads",
    "template_text",
]
