"""Who may ask the desk for something: only the browser window that was opened with the desk's own address.

The desk listens on this computer's loopback address; that alone keeps nobody out who can make a browser here ask for
it. So every request must name this host and port (a foreign name that was made to point here does not), come from no
other page, and carry the token that was in the address the desk was opened with, kept since in a cookie that scripts
cannot read and other sites cannot send. Pure: headers in, a verdict out.
"""

import hmac
import re
from collections.abc import Sequence
from typing import Final, NamedTuple, Protocol

HOST: Final = "127.0.0.1"
MOST_BODY: Final = 64 * 1024
"""Longest request body, bytes (ours): the longest correction is 2000 characters."""

HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}
"""What every answer carries: nothing from elsewhere may be loaded, and nothing of ours shown inside another page."""

PRACTICE_PAGE: Final = (
    "sandbox allow-scripts allow-downloads allow-modals; default-src 'none'; script-src 'unsafe-inline'; "
    "style-src 'unsafe-inline'; img-src data:; font-src data:; media-src data: blob:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
"""For pages of the lesson itself: they bring their own scripts, and stand in no relation to the desk's address."""


_SOUND: Final = re.compile(r"audio/[a-z0-9][a-z0-9.+-]{0,40}")


class Headers(Protocol):
    """As far as a request's headers are read here."""

    def get_all(self, name: str, /) -> Sequence[str] | None:
        """All values of a name, however it is written; None where there is none."""
        ...


class Refusal(NamedTuple):
    """Status and one line that says what to do."""

    status: int
    say: str


STRANGE_HOST: Final = Refusal(403, "the desk answers only to the address it printed: open that one")
STRANGE_ORIGIN: Final = Refusal(403, "the desk answers only its own page: open the address it printed")
NO_TOKEN: Final = Refusal(
    403, "this address is not, or no longer, the desk's: start fourlimb desk and open what it prints"
)


def refused(headers: Headers, port: int, token: str, *, changes: bool) -> Refusal | None:
    """Why a request may not be answered; None where it may. What asks for a change must say its origin."""
    return strange(headers, port, changes=changes) or (None if has_token(headers, port, token) else NO_TOKEN)


def strange(headers: Headers, port: int, *, changes: bool) -> Refusal | None:
    """The same without the token: for the one request that brings it in its address."""
    here = f"{HOST}:{port}"
    if _one(headers, "Host") != here:
        return STRANGE_HOST
    origins = headers.get_all("Origin") or []
    if any(origin != f"http://{here}" for origin in origins) or (changes and len(origins) != 1):
        return STRANGE_ORIGIN
    sites = headers.get_all("Sec-Fetch-Site") or []
    if any(site not in ("same-origin", "none") for site in sites):
        return STRANGE_ORIGIN
    return None


def has_token(headers: Headers, port: int, token: str) -> bool:
    """Whether the desk's cookie is among those sent."""
    pairs = (part.strip().split("=", 1) for line in headers.get_all("Cookie") or [] for part in line.split(";"))
    return any(len(pair) == 2 and pair[0] == cookie_name(port) and same(pair[1], token) for pair in pairs)


def same(given: str, token: str) -> bool:
    """Whether two secrets are one, told in a time that says nothing about where they differ."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode())


def cookie_name(port: int) -> str:
    """Cookies do not know ports: two desks on one computer must not take each other's."""
    return f"fourlimb-desk-{port}"


def cookie(port: int, token: str) -> str:
    """The value of Set-Cookie that keeps the token for this browser's session."""
    return f"{cookie_name(port)}={token}; Path=/; HttpOnly; SameSite=Strict"


def body_length(headers: Headers) -> int | Refusal:
    """Bytes of a request's body, or why it is not read."""
    kind = _one(headers, "Content-Type").split(";")[0].strip().lower()
    if kind != "application/json":
        return Refusal(415, "the desk takes JSON: send Content-Type application/json")
    length = _one(headers, "Content-Length")
    if headers.get_all("Transfer-Encoding") or not (length.isascii() and length.isdigit()):
        return Refusal(411, "the request does not say how long it is: send Content-Length")
    if len(length) > 9 or int(length) > MOST_BODY:
        return Refusal(413, f"the request is too long: the desk takes at most {MOST_BODY} bytes")
    return int(length)


def take_length(headers: Headers, most: int) -> int | Refusal:
    """Bytes of a take that is handed over, or why it is not read."""
    kind = _one(headers, "Content-Type").split(";")[0].strip().lower()
    if not _SOUND.fullmatch(kind):
        return Refusal(415, "a take is sound or MIDI: choose a file of those kinds")
    length = _one(headers, "Content-Length")
    if headers.get_all("Transfer-Encoding") or not (length.isascii() and length.isdigit()):
        return Refusal(411, "the request does not say how long it is: send Content-Length")
    if len(length) > 12 or int(length) > most:
        return Refusal(
            413, f"the take is too long: the desk takes at most {most >> 20} MB; put it into takes/ yourself"
        )
    return int(length)


def _one(headers: Headers, name: str) -> str:
    """A header that must stand there once; "" otherwise."""
    values = headers.get_all(name) or []
    return values[0] if len(values) == 1 else ""
