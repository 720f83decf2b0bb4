"""Which computers' programs may use the telescope: these protocols know no passwords, so it goes by
address."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.web.door.addresses import address_of, is_loopback

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
    """This computer, and these networks besides. ``option`` is where they are named."""

    option: str
    networks: tuple[Network, ...] = ()

    @staticmethod
    def parse(words: Iterable[str], option: str) -> Allowed:
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
                    f"{option} '{word}'",
                    "an address, a network, or the word local",
                    "For example 192.168.4.17, 192.168.4.0/24, or local for all local networks",
                ) from None
        return Allowed(option, tuple(found))

    def peer(self, address: str) -> bool:
        """Whether a program at that address may use the telescope."""
        if is_loopback(address):
            return True
        ip = address_of(address)
        return ip is not None and any(ip.version == n.version and ip in n for n in self.networks)

    def turned_away(self, address: str) -> str:
        """What is said to one that may not."""
        return (
            f"Programs at {address} may not use this telescope. To let them, start plumbstar serve "
            f"with {self.option} {address}."
        )
