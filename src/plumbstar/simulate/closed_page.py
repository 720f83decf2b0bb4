"""The simulated controller's own small page: two lines, and what hands do at a telescope.

Plain HTTP on this computer alone: ``GET /`` is the page, ``POST /order`` takes an
:class:`~plumbstar.simulate.closed_telescope.Order` as JSON and answers with the display, ``GET
/truth`` tells what no observer knows, ``GET /stars`` those it can be taught from.
"""

from __future__ import annotations

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import msgspec

from plumbstar.errors import UserError
from plumbstar.simulate.closed_telescope import ClosedTelescope, Lines, Order, Truth

PAGE = Path(__file__).with_name("closed.html")


class ControllerPage:
    """Serves until closed; ``port`` 0 takes any free one. Raises :class:`UserError`."""

    def __init__(self, telescope: ClosedTelescope, port: int = 0) -> None:
        self.telescope = telescope
        self._one_at_a_time = threading.Lock()
        page = self

        class Answers(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                if self.path == "/truth":
                    self._send(msgspec.json.encode(page.truth()), "application/json")
                elif self.path == "/stars":
                    self._send(msgspec.json.encode(page.telescope.box.stars), "application/json")
                else:
                    self._send(PAGE.read_bytes(), "text/html; charset=utf-8")

            def do_POST(self) -> None:
                size = min(10_000, int(self.headers.get("content-length") or 0))
                said = page.order(self.rfile.read(size))
                self._send(msgspec.json.encode(said), "application/json")

            def _send(self, body: bytes, media: str) -> None:
                self.send_response(200)
                self.send_header("content-type", media)
                self.send_header("content-length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Quiet."""

        try:
            self._server = ThreadingHTTPServer(("127.0.0.1", port), Answers)
        except OSError as e:
            raise UserError(
                f"The port {port} for the controller's page cannot be used ({e.strerror or e})",
                "",
                "Choose another, or leave it out",
            ) from None
        self.port = int(self._server.server_address[1])

    def order(self, raw: bytes) -> Lines:
        """One order as JSON; what it cannot do stands beside the display."""
        try:
            return self.obey(msgspec.json.decode(raw, type=Order))
        except (msgspec.ValidationError, msgspec.DecodeError, UnicodeDecodeError) as e:
            return msgspec.structs.replace(self.look(), error=f"no order: {e}")

    def obey(self, order: Order) -> Lines:
        """One order, from whichever hand; what it cannot do stands beside the display."""
        with self._one_at_a_time:
            try:
                return self.telescope.obey(order)
            except UserError as e:
                return msgspec.structs.replace(self.telescope.lines(), error=str(e))

    def look(self) -> Lines:
        """The display as it is."""
        with self._one_at_a_time:
            return self.telescope.lines()

    def truth(self) -> Truth:
        """What no observer knows."""
        with self._one_at_a_time:
            return self.telescope.truth()

    def start(self) -> None:
        """On a thread of its own."""
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def close(self) -> None:
        """No more answers."""
        self._server.shutdown()
        self._server.server_close()
