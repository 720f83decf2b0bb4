"""Who may come in: the Host and Origin checks, the headers, the size limit and the pairing code.

What each of these is for is told in docs/serving.md. In short: a page of another site must be able
neither to act nor to read here (Origin, Sec-Fetch-Site, own header, Host against DNS rebinding),
and somebody else on the telescope's network neither without the code shown on its screen.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import ipaddress
import secrets
import socket
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

import msgspec
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(self), camera=(), microphone=()",
}

#: No 0, O, 1, I, L: read off a screen in the dark. 31 ** 8 codes, about 2 ** 39.6.
ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 8
COOKIE = "plumbstar"
SESSION_SECONDS = 16 * 3600  # one night; the phone is not asked again while it lasts

BODY_LIMIT = 64 * 1024
PHOTO_LIMIT = 24 * 1024 * 1024
PHOTO_PATH = "/data/collimate"

#: How this computer is called on itself.
HOME = ("127.0.0.1", "localhost", "::1")

_ASKS = ("GET", "HEAD")
# What a guest without the code may see: the page that asks for it and what it is made of.
_OPEN = ("/pair", "/static/", "/favicon.ico")


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


class Sessions:
    """Signed session cookies: nothing is stored, so they outlive a restart of the server.

    ``key`` is secret (32 bytes, kept in the data directory). A cookie is its moment of issue, a
    random part and an HMAC-SHA256 of both (RFC 2104).
    """

    def __init__(self, key: bytes, clock: Callable[[], float] | None = None) -> None:
        from plumbstar.clock.clock import steady  # the logbook comes with it

        self._key = key
        # Steady while the server runs: a board whose clock is set in mid-evening keeps its phones.
        # A cookie must outlive a restart, and for that only the system's clock will do: one from
        # 1970 is too old then, and the phone types the code again.
        began = time.time() - steady()
        self._clock = clock or (lambda: began + steady())

    def _sign(self, text: str) -> str:
        return hmac.new(self._key, text.encode(), hashlib.sha256).hexdigest()

    def issue(self) -> str:
        """A new cookie's value."""
        text = f"{int(self._clock())}.{secrets.token_hex(16)}"
        return f"{text}.{self._sign(text)}"

    def valid(self, value: str) -> bool:
        """Whether it was issued here and is not too old."""
        text, _, sign = value.rpartition(".")
        if not text or not hmac.compare_digest(sign.encode(), self._sign(text).encode()):
            return False
        # Signed, so it is a number; a clock set back counts as young.
        return self._clock() - int(text.partition(".")[0]) <= SESSION_SECONDS


@dataclass
class _Guesses:
    wrong: list[float] = field(default_factory=list)
    locked_until: float = 0.0
    wait: float = 0.0


class Pairing:
    """The code, and a brake on guessing it: five wrong in a minute, then a wait that doubles.

    The brake is for each address (a /64 for IPv6), so that a guesser cannot lock the observer out,
    with a second one over all: 60 wrong in a minute, at which rate twelve hours of guessing from
    any number of addresses find a code with a chance of 5e-8.
    """

    PER_MINUTE = 5
    ALL_PER_MINUTE = 60
    MINUTE = 60.0
    FIRST_WAIT = 30.0
    LONGEST_WAIT = 3600.0

    def __init__(
        self, code: str | None = None, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        self.code = code or "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        self._now = monotonic
        self._by_address: dict[str, _Guesses] = {}
        self._all: list[float] = []

    @property
    def shown(self) -> str:
        """The code as it is read out: two groups of four."""
        return f"{self.code[:4]} {self.code[4:]}"

    def wait_for(self, address: str) -> float:
        """Seconds until that address may guess again; 0 when it may now."""
        now = self._now()
        self._all = [t for t in self._all if now - t < self.MINUTE]
        full = len(self._all) >= self.ALL_PER_MINUTE
        all_wait = self.MINUTE - (now - self._all[0]) if full else 0.0
        g = self._by_address.get(neighbourhood(address))
        return max(all_wait, g.locked_until - now if g is not None else 0.0, 0.0)

    def guess(self, code: str, address: str) -> bool:
        """Whether the code is right. Call only when :meth:`wait_for` is zero."""
        given = "".join(c for c in code.upper() if c.isalnum())
        if hmac.compare_digest(given.encode(), self.code.encode()):
            self._by_address.pop(neighbourhood(address), None)
            return True
        now = self._now()
        self._all.append(now)
        if len(self._by_address) > 1000:  # many addresses: keep those that are locked out
            self._by_address = {k: g for k, g in self._by_address.items() if g.locked_until > now}
        g = self._by_address.setdefault(neighbourhood(address), _Guesses(wait=self.FIRST_WAIT))
        g.wrong = [t for t in g.wrong if now - t < self.MINUTE] + [now]
        # Once it has been locked out, every further wrong guess locks it out again, for longer.
        if len(g.wrong) >= self.PER_MINUTE or g.locked_until:
            g.locked_until = now + g.wait
            g.wait = min(2.0 * g.wait, self.LONGEST_WAIT)
        return False


class TooLarge(HTTPException):
    """More came than is taken, found out only while reading."""

    def __init__(self, limit: int) -> None:
        super().__init__(413, f"Send at most {limit // 1024} kB")


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


class Door:
    """ASGI middleware: refuses before anything else has looked at the request."""

    def __init__(self, app: ASGIApp, gate: Gate, pair_page: ASGIApp) -> None:
        self.app = app
        self.gate = gate
        self.pair_page = pair_page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # nothing here speaks anything else
            await send({"type": "websocket.close", "code": 1008})
            return
        send = _with_headers(send, scope["path"])
        refusal = self._refusal(scope)
        if refusal is not None:
            await _say(send, *refusal)
            return
        path: str = scope["path"]
        paired = self.gate.paired(scope)
        scope.setdefault("state", {})["paired"] = paired
        if not paired and path not in _OPEN and not path.startswith("/static/"):
            if path.startswith(("/data/", "/do/")) or path == "/stream":
                await _say(
                    send, 401, "This phone is not paired", "Type the code that the server shows"
                )
            else:
                await self.pair_page(scope, receive, send)
            return
        limit = PHOTO_LIMIT if path == PHOTO_PATH else BODY_LIMIT
        if announces_more(scope, limit):
            # Closed, since what is still coming would be taken for the next request.
            await _say(
                send, 413, "That is too much", f"Send at most {limit // 1024} kB", close=True
            )
            return
        await self.app(scope, limited(receive, limit), send)

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        if not self.gate.called(scope):
            return (
                421,
                f"The server is not known as '{headers.get('host', '')[:100]}'",
                "Use the address it printed, or start it with --name for that name",
            )
        site = headers.get("sec-fetch-site", "")
        if scope["method"] in _ASKS:
            # A link from another page may open ours; reading our data from there may not.
            top = headers.get("sec-fetch-mode", "") == "navigate"
            if site in ("cross-site", "same-site") and not top:
                return 403, "A page of another site asked", "Open the server's own page"
            return None
        if scope["method"] != "POST":
            return 405, f"{scope['method']} is not understood", "Use GET or POST"
        if self.gate.foreign(scope) or site not in ("", "same-origin"):
            return 403, "A page of another site asked", "Use the server's own page"
        if headers.get("x-plumbstar") != "1":
            # A form of another site cannot set this header, even in a browser without Origin.
            return 403, "The request lacks its X-Plumbstar header", "Use the server's own page"
        return None


def announces_more(scope: Scope, limit: int) -> bool:
    """Whether the request says that more will come than is taken, or says no length at all."""
    length = Headers(scope=scope).get("content-length", "0")
    return not length.isdigit() or int(length) > limit


def limited(receive: Receive, limit: int) -> Receive:
    """The body, counted while it comes. Raises TooLarge."""
    got = 0

    async def counted() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > limit:
            raise TooLarge(limit)
        return message

    return counted


def _with_headers(send: Send, path: str) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            # Pages change with the program: ask each time, and be told "not changed".
            headers.setdefault(
                "cache-control", "no-cache" if path.startswith("/static/") else "no-store"
            )
        await send(message)

    return with_headers


async def _say(send: Send, status: int, error: str, remedy: str, close: bool = False) -> None:
    body = msgspec.json.encode({"error": error, "remedy": remedy})
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    if close:
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
