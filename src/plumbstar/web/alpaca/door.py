"""Who may talk to the device: Alpaca knows no passwords, so by address, and never from a browser
that shows a page of another site."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.types import Scope

from plumbstar.errors import UserError
from plumbstar.web.door.addresses import address_of, is_loopback
from plumbstar.web.door.gate import Gate

Network = ipaddress.IPv4Network | ipaddress.IPv6Network

#: Networks that nobody reaches from the internet: RFC 1918, 3927, 4193, 4291 section 2.5.6.
LOCAL = tuple(
    ipaddress.ip_network(n)
    for n in (
        "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "fc00::/7", "fe80::/10",
    )
)  # fmt: skip


@dataclass(frozen=True)
class Allowed:
    """This computer, and these networks besides."""

    networks: tuple[Network, ...] = ()

    @staticmethod
    def parse(words: Iterable[str]) -> Allowed:
        """Read addresses, networks (``192.168.4.0/24``) and the word ``local``.

        Raises UserError.
        """
        found: list[Network] = []
        for word in words:
            if word.strip().lower() == "local":
                found += LOCAL
                continue
            try:
                found.append(ipaddress.ip_network(word.strip(), strict=False))
            except ValueError:
                raise UserError(
                    f"--alpaca-allow '{word}'",
                    "an address, a network, or the word local",
                    "For example 192.168.4.17, 192.168.4.0/24, or local for all local networks",
                ) from None
        return Allowed(tuple(found))

    def peer(self, address: str) -> bool:
        """Whether a program at that address may use the device."""
        if is_loopback(address):
            return True
        ip = address_of(address)
        return ip is not None and any(ip.version == n.version and ip in n for n in self.networks)


def refusal(scope: Scope, gate: Gate, allowed: Allowed) -> tuple[int, str] | None:
    """(HTTP status, why) for a request that is not let in, or None."""
    headers = Headers(scope=scope)
    peer = str((scope.get("client") or ("",))[0])
    if not allowed.peer(peer):
        return 403, (
            f"Programs at {peer} may not use this telescope. To let them, start plumbstar serve "
            f"with --alpaca-allow {peer}."
        )
    if not gate.called(scope):
        return 421, (
            f"This server is not known as '{headers.get('host', '')[:100]}'. Use the address it "
            "printed, or start it with --name for that name."
        )
    # A relay on this computer would make everybody loopback; but it passes on the name it had.
    if is_loopback(peer) and not gate.at_home(scope):
        return 403, "From this computer, call it 127.0.0.1."
    site = headers.get("sec-fetch-site", "")
    top = headers.get("sec-fetch-mode", "") == "navigate" and scope["method"] == "GET"
    if gate.foreign(scope) or (site in ("cross-site", "same-site") and not top):
        return 403, "The request came from another website and was refused."
    return None
