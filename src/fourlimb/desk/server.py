"""The desk's own small server: Python's, on the loopback address, one thread a request.

It reads a request, asks `guard` whether it may be answered and `routes` what the answer is. Nothing else is decided
here.
"""

import json
import secrets
import sys
import threading
import webbrowser
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Final
from urllib.parse import parse_qsl, urlsplit

from fourlimb.model import LessonError

from . import guard
from .desk import Desk
from .making import MOST_TAKE
from .routes import TAKE, Reply, answer, handed, sorry

IDLE_S: Final = 30.0
"""A connection that says nothing for so long is closed (ours)."""
MOST_TARGET: Final = 8192
"""Longest address of a request, characters (ours): the longest correction, as an address writes it."""

MOST_FIELDS: Final = 20
"""Most things that one address may say (ours; the desk's own say at most six)."""

Say = Callable[[str], None]


def serve(desk: Desk, *, opened: bool = True, say: Say = print, port: int = 0) -> None:
    """Serve a desk until Ctrl-C, and say its address; `opened`: open it in the browser.

    port : 0 lets the system choose. Ctrl-C while a change is being made raises KeyboardInterrupt, after the words
    that are not yet in the lesson were said. Raises LessonError when no port can be had.
    """
    server = listening(desk, port)
    try:
        say(f"The desk is open at {server.address}\nLeave this window open; Ctrl-C closes the desk.")
        if opened:
            webbrowser.open(server.address_once())
        server.serve_forever(poll_interval=0.2)
    except KeyboardInterrupt:
        lost = desk.work.unfinished()
        for words in lost:
            say(f"not done: {words}")
        if lost:
            say("The next desk shows corrections again; ask anew for the rest.")
            raise
        say("The desk is closed.")
    finally:
        server.server_close()
        desk.close()


def listening(desk: Desk, port: int = 0) -> "Server":
    """A server that has its port and answers once `serve_forever` runs."""
    try:
        return Server(desk, port)
    except OSError as error:
        raise LessonError(f"the desk cannot listen on this computer ({error.strerror}): try again") from None


class Server(ThreadingHTTPServer):
    """Knows its desk and its token. `address` is what to open."""

    daemon_threads = True
    allow_reuse_address = False

    def __init__(self, desk: Desk, port: int) -> None:
        self.desk = desk
        self.token = secrets.token_urlsafe(32)
        self.handing = threading.Lock()
        self._once: set[str] = set()
        super().__init__((guard.HOST, port), Handler)

    @property
    def address(self) -> str:
        """The address to open, with the token."""
        return f"http://{guard.HOST}:{self.server_port}/?token={self.token}"

    def address_once(self) -> str:
        """An address that opens the desk once: what starts a program can be seen by everybody on a computer."""
        token = secrets.token_urlsafe(32)
        self._once.add(token)
        return f"http://{guard.HOST}:{self.server_port}/?token={token}"

    def takes(self, token: str) -> bool:
        """Whether an address with this token opens the desk."""
        once = next((known for known in tuple(self._once) if guard.same(token, known)), None)
        if once is not None:
            self._once.discard(once)
        return once is not None or guard.same(token, self.token)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that hangs up is no error; a defect of ours is shown where the desk was started."""
        if not isinstance(sys.exception(), ConnectionError | TimeoutError):
            super().handle_error(request, client_address)


class Handler(BaseHTTPRequestHandler):
    """One connection."""

    server: Server
    protocol_version = "HTTP/1.1"
    server_version = "fourlimb"
    sys_version = ""
    timeout = IDLE_S

    def do_GET(self) -> None:
        """Answer a question."""
        try:
            target = urlsplit(self.path)
            query = dict(parse_qsl(target.query, keep_blank_values=True, max_num_fields=MOST_FIELDS))
        except ValueError:
            return self._send(sorry(400, "the address is not understood: open the one that the desk printed"))
        if target.path == "/" and "token" in query:
            return self._enter(query["token"])
        if refusal := self._refused(changes=False):
            return self._send(sorry(*refusal))
        span = self.headers.get("Range", "")
        return self._send(answer(self.server.desk, "GET", target.path, query, None, span))

    def do_POST(self) -> None:
        """Make a change."""
        if refusal := self._refused(changes=True):
            return self._send(sorry(*refusal), close=True)
        target, _, query = self.path.partition("?")
        if target == TAKE:
            return self._take(query)
        length = guard.body_length(self.headers)
        if isinstance(length, guard.Refusal):
            return self._send(sorry(*length), close=True)
        body = _read_json(self.rfile.read(length))
        if not isinstance(body, dict):
            return self._send(sorry(400, "the request is not understood: the desk takes a JSON object"))
        return self._send(answer(self.server.desk, "POST", self.path, {}, body))

    def _take(self, query: str) -> None:
        """A take is handed over: read only when it may be one, and one at a time."""
        length = guard.take_length(self.headers, MOST_TAKE)
        if isinstance(length, guard.Refusal):
            return self._send(sorry(*length), close=True)
        reply = self._handed(query, length)
        if reply.status >= 400:
            self._pass_over(length)
        return self._send(reply, close=reply.status >= 400)

    def _handed(self, query: str, length: int) -> Reply:
        try:
            said = dict(parse_qsl(query, keep_blank_values=True, max_num_fields=MOST_FIELDS))
        except ValueError:
            return sorry(400, "the address is not understood: open the one that the desk printed")
        if not self.server.handing.acquire(blocking=False):
            return sorry(409, "another take is just being handed over: wait until it is there")
        try:
            return handed(self.server.desk, said.get("name", ""), lambda: self._read(length))
        finally:
            self.server.handing.release()

    def _pass_over(self, length: int) -> None:
        """What is not wanted is let by: a browser hears no answer before it has sent all."""
        while length > 0 and (passed := len(self.rfile.read(min(length, 1 << 16)))):
            length -= passed

    def _read(self, length: int) -> bytes:
        data = self.rfile.read(length)
        if len(data) < length:
            raise ConnectionError("the browser hung up before all of it was here")
        return data

    def _refused(self, *, changes: bool) -> guard.Refusal | None:
        if len(self.path) > MOST_TARGET:
            return guard.Refusal(414, "the address is too long")
        return guard.refused(self.headers, self.server.server_port, self.server.token, changes=changes)

    def _enter(self, token: str) -> None:
        """The first request brings the token in its address; from then on a cookie holds it."""
        port = self.server.server_port
        if refusal := guard.strange(self.headers, port, changes=False):
            return self._send(sorry(*refusal))
        if not self.server.takes(token):
            return self._send(sorry(*guard.NO_TOKEN))
        keep = {"Location": "/", "Set-Cookie": guard.cookie(port, self.server.token)}
        return self._send(Reply(b"", "text/plain; charset=utf-8", 303, keep))

    def _send(self, reply: Reply, *, close: bool = False) -> None:
        self.send_response(reply.status)
        headers = {**guard.HEADERS, "Content-Type": reply.kind, "Content-Length": str(len(reply.body)), **reply.more}
        for name, value in headers.items():
            if value:
                self.send_header(name, value)
        if close:  # what was not read must not be taken for the next request
            self.send_header("Connection", "close")
            self.close_connection = True
        self.end_headers()
        self.wfile.write(reply.body)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """What Python's server refuses by itself, in our words."""
        self._send(sorry(code, message or "the request is not understood"), close=True)

    def log_message(self, format: str, *args: Any) -> None:
        """The desk keeps no log of what is asked."""


def _read_json(raw: bytes) -> Any:
    try:
        return json.loads(raw)
    except (ValueError, RecursionError):
        return None
