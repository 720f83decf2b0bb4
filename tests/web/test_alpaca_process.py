"""A running server, driven with the standard's own Python client library (alpyca)."""

from __future__ import annotations

import signal

import alpaca.discovery
import alpaca.management
import numpy as np
import pytest
from alpaca.exceptions import (
    DriverException,
    InvalidOperationException,
    InvalidValueException,
    NotConnectedException,
    NotImplementedException,
    ValueNotSetException,
)
from alpaca.telescope import AlignmentModes, DriveRates, EquatorialCoordinateType, Telescope

from plumbstar.sky import ofdate
from plumbstar.sky.naming import lookup
from plumbstar.sky.times import Instant
from ports import free_port

from .server_process import Server, shown
from .server_rig import SCENE


class Charting(Server):
    """The server with its device, and a client of it."""

    def __init__(self, tmp_path, *options):
        self.alpaca_port = free_port()
        self.discovery_port = free_port()
        super().__init__(
            tmp_path, "--no-encoders", "--alpaca", "--alpaca-port", str(self.alpaca_port),
            "--alpaca-discovery-port", str(self.discovery_port), *options,
        )  # fmt: skip

    @property
    def address(self):
        return f"127.0.0.1:{self.alpaca_port}"

    def telescope(self):
        t = Telescope(self.address, 0)
        t.Connected = True
        return t

    def point(self, name):
        """Type what the circles show when that star is centred."""
        self.do("typed_reading", **shown(name))


@pytest.fixture
def server(tmp_path):
    made = []

    def start(*options):
        s = Charting(tmp_path, *options)
        made.append(s)
        return s.start()

    yield start
    for s in made:
        if s.process.poll() is None:
            s.kill()


def of_date(name, t):
    """Hours and degrees at the evening's present moment."""
    star = lookup.find_target(name)
    now = Instant.parse(t.UTCDate.isoformat()[:-6] + "Z")
    ra, dec = ofdate.from_icrs(
        np.radians(star.ra_deg), np.radians(star.dec_deg), now, SCENE.site
    )  # without its proper motion: 15 arcsec for the fastest used here
    return float(np.degrees(ra)) / 15.0, float(np.degrees(dec))


def test_found_and_asked_who_it_is(server, monkeypatch):
    s = server()
    monkeypatch.setattr(alpaca.discovery, "port", s.discovery_port)
    search = alpaca.discovery.search_ipv4  # which always waits its whole time
    assert any(s.address in search(numquery=1, timeout=wait) for wait in (0.4, 1.0, 5.0))
    assert alpaca.management.apiversions(s.address) == [1]
    assert alpaca.management.description(s.address)["ServerName"] == "Plumbstar"
    (d,) = alpaca.management.configureddevices(s.address)
    assert (d["DeviceType"], d["DeviceNumber"], d["DeviceName"]) == ("Telescope", 0, "Ridge box")
    s.stop()
    again = s.start()
    assert alpaca.management.configureddevices(again.address)[0]["UniqueID"] == d["UniqueID"]
    assert s.stop(signal.SIGINT)[0] in (0, 130, -2)


def test_an_evening_from_the_chart(server):
    s = server()
    t = Telescope(s.address, 0)
    assert t.InterfaceVersion == 3
    assert not t.Connected
    with pytest.raises(NotConnectedException):
        _ = t.RightAscension
    t.Connected = True
    assert t.AlignmentMode is AlignmentModes.algAltAz
    assert t.EquatorialSystem is EquatorialCoordinateType.equTopocentric
    assert list(t.TrackingRates) == [DriveRates.driveSidereal]
    assert (t.SiteLatitude, t.SiteLongitude, t.SiteElevation) == (47.2, 11.6, 940.0)
    assert (t.FocalLength, t.ApertureDiameter) == (1.456, 0.28)
    assert (t.CanSync, t.CanSlew, t.CanSlewAsync, t.Slewing, t.Tracking) == (True,) + (False,) * 4

    # Before the first sighting nobody knows where it points, and a sync needs a reading.
    with pytest.raises(InvalidOperationException, match="No reading"):
        _ = t.RightAscension
    with pytest.raises(DriverException, match="Type both readings"):
        t.SyncToCoordinates(*of_date("Capella", t))
    s.point("Capella")
    with pytest.raises(ValueNotSetException, match="before the first sighting"):
        _ = t.Declination

    for name in ("Capella", "Rigel", "Alpheratz"):
        s.point(name)
        t.SyncToCoordinates(*of_date(name, t))
    assert [x["star"] for x in s.state()["sightings"]] == ["Capella", "Rigel", "Alpheratz"]
    s.point("Aldebaran")
    ra, dec = of_date("Aldebaran", t)
    assert abs((t.RightAscension - ra) * 15 * np.cos(np.radians(dec))) < 0.3
    assert abs(t.Declination - dec) < 0.3

    # A target is set and kept; a sync on it is a sighting as well.
    with pytest.raises(InvalidOperationException):
        _ = t.TargetRightAscension
    with pytest.raises(InvalidValueException):
        t.TargetDeclination = 91.0
    t.TargetRightAscension, t.TargetDeclination = ra, dec
    assert (t.TargetRightAscension, t.TargetDeclination) == (ra, dec)
    s.point("Aldebaran")
    t.SyncToTarget()
    assert s.state()["sightings"][-1]["star"] == "Aldebaran"

    # Slewing is refused, and changes nothing.
    for slew in (t.SlewToTargetAsync, lambda: t.SlewToCoordinatesAsync(ra, dec), t.Park):
        with pytest.raises(NotImplementedException):
            slew()
    assert s.state()["target"] is None


def test_a_slew_is_a_push_where_that_was_asked_for(server):
    s = server("--alpaca-slew-sets-target")
    t = s.telescope()
    for name in ("Capella", "Rigel", "Alpheratz"):
        s.do("sight", star=name, id=f"press-{name}", reading=shown(name))
    assert (t.CanSlew, t.CanSlewAsync, t.CanSlewAltAz) == (True, True, False)
    with pytest.raises(InvalidOperationException):  # below the horizon
        t.SlewToCoordinatesAsync(*of_date("Antares", t))
    assert not t.Slewing
    t.SlewToCoordinatesAsync(*of_date("Aldebaran", t))
    assert t.Slewing
    assert s.state()["target"]["label"] == "Aldebaran"
    s.point("Aldebaran")
    assert not t.Slewing
    # A place where nothing is listed is a target too, and the chart may take it back.
    ra, dec = of_date("Aldebaran", t)
    t.TargetRightAscension, t.TargetDeclination = ra, dec + 3.0
    t.SlewToTargetAsync()
    assert t.Slewing
    assert s.state()["target"]["label"].startswith("04h3")
    t.AbortSlew()
    assert not t.Slewing
