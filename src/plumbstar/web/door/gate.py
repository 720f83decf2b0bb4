"""Which requests are for this server, and from whom: Host, Origin, loopback, cookie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers
from starlette.types import Scope

from plumbstar.web.door.addresses import HOME, address_of, is_loopback, own_addresses, split_host
from plumbstar.web.door.sessions import COOKIE, SESSION_SECONDS, Sessions


@dataclass(frozen=True)
class Gate:
    """What the door knows: the names it answers to, and whether it must ask for the code."""

    names: frozenset[str]
    port: int
    secure: bool
    sessions: Sessions

    @staticmethod
    def names_for(host: str, extra: Iterable[str] = ()) -> frozenset[str]:
        """The hosts by which the server may be called, for the address it is bound to."""
        names = set(HOME)
        if host in ("0.0.0.0", "::", ""):
            names |= set(own_addresses())
        else:
            names.add(host.lower())
        return frozenset(names | {e.lower().rstrip(".") for e in extra})

    def called(self, scope: Scope) -> bool:
        """Whether the request has one Host header, with one of our names and our port."""
        hosts = Headers(scope=scope).getlist("host")
        return len(hosts) == 1 and self._ours(hosts[0], scope)

    def foreign(self, scope: Scope) -> bool:
        """Whether the request has an Origin header, and not that of our own pages."""
        origin = Headers(scope=scope).get("origin")
        scheme, _, rest = (origin or "").partition("://")
        own = scheme == ("https" if self.secure else "http") and self._ours(rest, scope)
        return origin is not None and not own

    def _ours(self, name: str, scope: Scope) -> bool:
        host, port = split_host(name)
        # The address of ours at which the connection came in needs no list: a rebound name is a
        # name, never the address itself, and an access point that was switched on after the start
        # is reached.
        arrived = str((scope.get("server") or ("",))[0])
        known = host in self.names or (host == arrived and address_of(host) is not None)
        return known and (port or ("443" if self.secure else "80")) == str(self.port)

    def at_home(self, scope: Scope) -> bool:
        """A browser on this very computer, calling it by its loopback name: no code needed.

        Both are demanded: behind a proxy on this computer every peer is loopback, but the name is
        not.
        """
        peer = scope.get("client")
        host, _ = split_host(Headers(scope=scope).get("host", ""))
        return bool(peer and is_loopback(peer[0])) and host in HOME

    def paired(self, scope: Scope) -> bool:
        """Whether this request may see and do everything."""
        if self.at_home(scope):
            return True
        try:
            jar = SimpleCookie(Headers(scope=scope).get("cookie", ""))
        except CookieError:
            return False
        return COOKIE in jar and self.sessions.valid(jar[COOKIE].value)

    def cookie(self) -> str:
        """A Set-Cookie header for a new session."""
        flags = "; Secure" if self.secure else ""
        return (
            f"{COOKIE}={self.sessions.issue()}; Path=/; Max-Age={SESSION_SECONDS}; HttpOnly; "
            f"SameSite=Strict{flags}"
        )
