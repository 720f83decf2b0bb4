"""Answers of the commands that run, watch or set up something."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import Report


class DeviceReport(Report, frozen=True, kw_only=True):
    """The telescope for other software, under the Alpaca standard."""

    port: int
    discovery_port: int | None
    allow: tuple[str, ...]


class IndiReport(Report, frozen=True, kw_only=True):
    """The same telescope, under the INDI protocol."""

    port: int
    allow: tuple[str, ...]


class ServeReport(Report, frozen=True, kw_only=True):
    url: str
    urls: tuple[str, ...]
    code: str | None
    logbook: str
    fingerprint_sha256: str | None
    alpaca: DeviceReport | msgspec.UnsetType = msgspec.UNSET
    indi: IndiReport | msgspec.UnsetType = msgspec.UNSET


class ReplayReport(Report, frozen=True, kw_only=True):
    """A recorded evening done again: what came of it. ``terms`` and ``sigmas`` in radians, the
    scales plain; empty without a fix."""

    presses: int
    refused: tuple[str, ...]
    sightings: int
    slip: bool
    sentence: str
    terms: dict[str, float]
    sigmas: dict[str, float]


class SimulateReport(Report, frozen=True, kw_only=True):
    host: str
    port: int | None
    control_port: int | None
    device: str | None
    kit: str


class ClosedReport(Report, frozen=True, kw_only=True):
    """A simulated closed controller: where its page is, and the stars it can be taught from."""

    url: str
    port: int
    stars: tuple[str, ...]
    kit: str


class CompletionReport(Report, frozen=True, kw_only=True):
    """The line for the shell, and the file that it belongs into."""

    shell: str
    source: str
    where: str


class ReadingReport(Report, frozen=True, kw_only=True):
    """One reading of the encoders."""

    az_reading_deg: float | None
    alt_reading_deg: float | None
    az_count: int | None
    alt_count: int | None
    at_unix_s: float | None
    state: str
    slip: bool
    problem: str


class ErrorReport(Report, frozen=True, kw_only=True):
    """What is answered when something is wrong with the question."""

    error: str
    remedy: str
