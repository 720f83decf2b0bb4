"""Addresses: whose they are, which are this computer's, and how a Host header names one."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import sys

#: Where the pages are served unless told otherwise: a port of which neither /etc/services nor
#: memory knows a use, below those that systems hand out themselves (common practice, no source).
PORT = 8273
#: How this computer is called on itself.
HOME = ("127.0.0.1", "localhost", "::1")


def address_of(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """A peer's address, None for what is none. A socket for both kinds shows IPv4 inside IPv6."""
    try:
        ip = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None
    return getattr(ip, "ipv4_mapped", None) or ip


def is_loopback(address: str) -> bool:
    """Whether that peer is this very computer."""
    ip = address_of(address)
    return ip is not None and ip.is_loopback


def neighbourhood(address: str) -> str:
    """Who counts as one guest: an IPv4 address, or an IPv6 network of 64 bits."""
    ip = address_of(address)
    if ip is None:
        return address
    return str(ipaddress.ip_network(f"{ip}/64", strict=False)) if ip.version == 6 else str(ip)


def _interfaces() -> list[str]:
    """The IPv4 address of each network interface, on Linux: the access point's as well as the
    way out (ioctl SIOCGIFADDR, netdevice(7))."""
    if not sys.platform.startswith("linux"):
        return []
    import fcntl

    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as s:
        for _, name in socket.if_nameindex():
            try:
                ask = name.encode()[:15].ljust(40, b"\0")
                found.append(socket.inet_ntoa(fcntl.ioctl(s, 0x8915, ask)[20:24]))
            except OSError:  # it has none
                continue
    return found


def own_addresses() -> tuple[str, ...]:
    """This computer's addresses on its networks, as far as it can be found out without asking."""
    found: list[str] = []
    # Connecting a datagram socket sends nothing; it only picks the address it would send from.
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as s:
                s.connect((far, 9))
                found.append(str(s.getsockname()[0]))
        except OSError:
            continue
    try:
        for info in socket.getaddrinfo(socket.gethostname(), None):
            found.append(str(info[4][0]))
    except OSError:
        pass
    with contextlib.suppress(OSError):
        found += _interfaces()
    return tuple(dict.fromkeys(a.partition("%")[0] for a in found if not is_loopback(a)))


def split_host(text: str) -> tuple[str, str]:
    """Host and port of a Host header, lower case, without brackets; port may be empty."""
    text = text.strip().lower()
    if text.startswith("["):
        host, _, rest = text[1:].partition("]")
        return host, rest.removeprefix(":")
    host, _, port = text.partition(":")
    return host.rstrip("."), port
