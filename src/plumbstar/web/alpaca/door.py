"""Who may talk to the device: Alpaca knows no passwords, so by address, and never from a browser
that shows a page of another site."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import Scope

from plumbstar.web.door.addresses import is_loopback
from plumbstar.web.door.gate import Gate
from plumbstar.web.programs.allowed import Allowed


def refusal(scope: Scope, gate: Gate, allowed: Allowed) -> tuple[int, str] | None:
    """(HTTP status, why) for a request that is not let in, or None."""
    headers = Headers(scope=scope)
    peer = str((scope.get("client") or ("",))[0])
    if not allowed.peer(peer):
        return 403, allowed.turned_away(peer)
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
