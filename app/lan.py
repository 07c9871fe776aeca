"""Use over the boat's own network: who is let in, by an address that works once, and a cookie from then on."""

import secrets
import socket
import sys
from contextlib import suppress
from io import StringIO
from threading import Lock
from typing import TextIO

import segno
from flask import Flask, Response, abort, request

from .addresses import place

ANY = "0.0.0.0"
PASS = "sternlog-pass"
ENTER = "/enter"
CAUTION = (
    "Caution: whoever shares this network can watch what is sent. Use it on a network you trust, and stop it "
    "(Ctrl-C) when done."
)
_ENTERED = '<meta http-equiv="refresh" content="0; url=PATH"><a href="PATH">Open sternlog</a>'
_NOWHERE = ("192.0.2.1", 9)  # an address for documentation (RFC 5737); to connect a UDP socket sends nothing


class Lan:
    """Lets in who comes by a one-time address; ``host`` is what the server listens on."""

    def __init__(self, host: str = ANY) -> None:
        self.host = host
        self.addresses = own_addresses() if host == ANY else [host]
        self.port = 0
        self._pass = secrets.token_urlsafe(32)
        self._paths: dict[str, str] = {}
        self._announced = ""
        self._lock = Lock()

    def invitation(self, host: str, path: str = "/") -> str:
        """Make an address that lets one visitor in, once, and shows ``path``."""
        token = secrets.token_urlsafe(16)
        with self._lock:
            self._paths[token] = path
        return f"http://{host}:{self.port}{ENTER}?token={token}"

    def spend(self, token: str) -> str | None:
        """Return what a token shows, None where it does not let its bearer in; from now on it does not."""
        with self._lock:
            known = [one for one in self._paths if secrets.compare_digest(one.encode(), token.encode())]
            return self._paths.pop(known[0]) if known else None

    def has_pass(self, cookie: str) -> bool:
        """Whether a cookie is the one that is given at the entrance."""
        return secrets.compare_digest(cookie.encode(), self._pass.encode())

    def admitted(self, path: str) -> Response:
        """Give the cookie, and go on to ``path``."""
        # A page that goes on by itself: the browser then sends the cookie along, wherever it came from.
        response = Response(_ENTERED.replace("PATH", path), mimetype="text/html")
        response.set_cookie(PASS, self._pass, httponly=True, samesite="Strict", path="/")
        return response

    @property
    def announced(self) -> bool:
        """Whether the invitation last written still lets someone in."""
        return self._announced in self._paths

    def announce(self, stream: TextIO | None = None) -> None:
        """Write a new invitation, as text and as a code for a camera."""
        stream = stream or sys.stdout
        address = self.invitation(self.addresses[0])
        self._announced = address.rpartition("=")[2]
        stream.write(f"For one other device on this network: {address}\n")
        drawn = StringIO()
        segno.make(address, error="l").terminal(drawn, compact=True, border=2)
        with suppress(UnicodeEncodeError):
            drawn.getvalue().encode(getattr(stream, "encoding", None) or "utf-8")
            stream.write(drawn.getvalue())
        stream.flush()


def guard_lan(server: Flask, lan: Lan) -> None:
    """Answer nobody without the cookie, which is given for a token that was not yet used."""

    @server.before_request
    def refuse_strangers() -> None:
        entering = request.path == ENTER and not place().key
        if not entering and not lan.has_pass(request.cookies.get(PASS, "")):
            abort(403, "This page needs the one-time address that sternlog prints where it was started.")

    @server.get(ENTER)
    def enter() -> Response:
        only_looking = request.method != "GET" or "prefetch" in request.headers.get("Sec-Purpose", "")
        path = None if only_looking else lan.spend(request.args.get("token", ""))
        if path is None:
            abort(
                403, "This address was used before or never worked; take the newest one that sternlog prints."
            )
        if not lan.announced:
            lan.announce()
        return lan.admitted(path)


def own_addresses() -> list[str]:
    """List this machine's IPv4 addresses on networks, the one others would reach it by first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        probe.connect(_NOWHERE)
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    return [one for one in dict.fromkeys(found) if not one.startswith("127.")] or ["127.0.0.1"]
