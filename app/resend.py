"""Send a log's sentences again over the network, in time with the log: over TCP to all who connect, or over UDP."""

import contextlib
import ipaddress
import selectors
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from analysis.errors import SettingError, SternlogError
from analysis.spoken import Pacing, Spoken

LOOPBACK = "127.0.0.1"
CAUTION = (
    "Caution: what is sent is old. Never let it reach a boat's instruments, charts or pilot while she is under way. "
    "Not for navigation."
)
_MOST_AT_ONCE = 512  # sentences held for a client while it takes them: some 40 kB
_LONGEST_WAIT_S = 0.5
_READ_BYTES = 4096
_KERNEL_BYTES = 1 << 18  # what the system may hold for a client besides

Say = Callable[[str], None]
Stopped = Callable[[], bool]


def _never() -> bool:
    return False


class ResendError(SternlogError):
    """An address that cannot be listened on or sent to."""


@dataclass(frozen=True)
class Sending:
    """What is sent, and when. Sentences are numbered on from lap to lap."""

    spoken: Spoken
    pacing: Pacing

    def lines(self, number: int, due: int) -> tuple[bytes, int]:
        """Return the lines from sentence ``number`` up to ``due`` or less, and the number of the next."""
        first = number % len(self.spoken)
        last = min(first + due - number, len(self.spoken), first + _MOST_AT_ONCE)
        return self.spoken.lines(first, last), number + last - first


def send_udp(
    sending: Sending, target: tuple[str, int], host: str | None, say: Say, stopped: Stopped = _never
) -> None:
    """Send each sentence as a datagram to ``target`` (host, port) when it is due, until all are sent or ``stopped``.

    ``host`` is the address of this machine to send from; without it only this machine is sent to. Raises
    SettingError for a target elsewhere, ResendError where it cannot be reached.
    """
    address = _resolved(*target)
    if host is None and not _is_here(address):
        raise SettingError(
            f"{target[0]} is not this machine. {CAUTION} If that is sure, name the address of this machine "
            "to send from with --host."
        )
    with socket.socket(_family(address), socket.SOCK_DGRAM) as out:
        if host is not None:
            out.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
            _bound(out, host)
        say(f"Sending to UDP {_shown(address, target[1])}.")
        number, begun = 0, time.monotonic()
        while number < sending.pacing.total and not stopped():
            due = sending.pacing.due(time.monotonic() - begun)
            while number < due and not stopped():
                lines, number = sending.lines(number, due)
                for line in lines.splitlines(keepends=True):
                    _send_datagram(out, line, (address, target[1]))
            wait_s = sending.pacing.wait_s(number, time.monotonic() - begun)
            time.sleep(min(wait_s, _LONGEST_WAIT_S) if number < sending.pacing.total else 0)


def _send_datagram(out: socket.socket, line: bytes, target: tuple[str, int]) -> None:
    try:
        out.sendto(line, target)
    except ConnectionRefusedError:
        pass  # nobody listens yet
    except OSError as error:
        raise ResendError(
            f"{_shown(*target)} cannot be sent to ({error.strerror or error}); check the address, and --host."
        ) from error


@dataclass
class _Client:
    """One who listens: the number of the next sentence to take, and the bytes that still have to be taken."""

    socket: socket.socket
    number: int
    held: memoryview = field(default_factory=lambda: memoryview(b""))
    speaks: bool = True
    watched: int = 0

    def wants(self, due: int) -> bool:
        return bool(self.held) or self.number < due

    def take(self, sending: Sending, due: int) -> None:
        """Send as much as the client takes now; raises OSError where it is gone."""
        if not self.held:
            lines, self.number = sending.lines(self.number, due)
            self.held = memoryview(lines)
        with contextlib.suppress(BlockingIOError):
            self.held = self.held[self.socket.send(self.held) :]

    def hear(self) -> None:
        """Read what the client says, which is of no account; raises OSError where it is gone."""
        with contextlib.suppress(BlockingIOError):
            self.speaks = bool(self.socket.recv(_READ_BYTES))


class TcpSender:
    """Sends to every client that connects; one that is slow has its own place and holds nobody up.

    The log begins when the first one connects; who comes later joins where it then is, or at the beginning
    where it is sent as fast as it goes. No client loses anything while it stays; each is let go when it has all.
    """

    def __init__(self, sending: Sending, port: int, host: str | None) -> None:
        """Listen on a port (0 takes any free one) of this machine, or of the address ``host`` of it.

        Raises ResendError where that is not possible.
        """
        self._sending = sending
        address = _resolved(host or LOOPBACK, port)
        try:
            self._listener = socket.create_server((address, port), family=_family(address))
        except OSError as error:
            raise ResendError(
                f"Port {port} on {address} cannot be used ({error.strerror or error}); stop what uses it, or "
                "name another (0 takes any free one)."
            ) from error
        self._listener.setblocking(False)
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._clients: list[_Client] = []
        self._begun: float | None = None
        self.address, self.port = self._listener.getsockname()[:2]

    @property
    def clients(self) -> int:
        """How many listen now."""
        return len(self._clients)

    @property
    def begun(self) -> float | None:
        """When the first one connected, by ``time.monotonic``; None before."""
        return self._begun

    def run(self, say: Say, stopped: Stopped = _never) -> None:
        """Send until every client has everything; with a loop, until interrupted or stopped."""
        say(f"Sending on TCP {_shown(self.address, self.port)} from when the first client connects.")
        ended = False
        try:
            while not self._done() and not stopped():
                if not ended and self._due() >= self._sending.pacing.total:
                    ended = True
                    say("The recording is at its end; waiting for those who still take the rest.")
                self._turn()
        finally:
            self._close()

    def _due(self) -> int:
        return 0 if self._begun is None else self._sending.pacing.due(time.monotonic() - self._begun)

    def _done(self) -> bool:
        due = self._due()
        return due >= self._sending.pacing.total and not any(one.wants(due) for one in self._clients)

    def _turn(self) -> None:
        due = self._due()
        for client in list(self._clients):
            if due >= self._sending.pacing.total and not client.wants(due):
                self._part(client)
            else:
                self._watch(client, due)
        for key, events in self._selector.select(self._wait_s(due)):
            if key.data is None:
                self._welcome()
            else:
                self._serve(key.data, events, due)

    def _wait_s(self, due: int) -> float:
        pacing = self._sending.pacing
        if self._begun is None or due >= pacing.total:
            return _LONGEST_WAIT_S
        return min(pacing.wait_s(due, time.monotonic() - self._begun), _LONGEST_WAIT_S)

    def _watch(self, client: _Client, due: int) -> None:
        wanted = (selectors.EVENT_READ if client.speaks else 0) | (
            selectors.EVENT_WRITE if client.wants(due) else 0
        )
        if wanted == client.watched:
            return
        if not client.watched:
            self._selector.register(client.socket, wanted, client)
        elif wanted:
            self._selector.modify(client.socket, wanted, client)
        else:
            self._selector.unregister(client.socket)
        client.watched = wanted

    def _welcome(self) -> None:
        try:
            connected, _ = self._listener.accept()
        except OSError:
            return  # gone before it was let in
        connected.setblocking(False)
        connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        connected.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _KERNEL_BYTES)
        at_once = self._sending.pacing.pace == 0
        self._clients.append(_Client(connected, 0 if at_once else self._due()))
        if self._begun is None:
            self._begun = time.monotonic()

    def _serve(self, client: _Client, events: int, due: int) -> None:
        try:
            if events & selectors.EVENT_READ:
                client.hear()
            if events & selectors.EVENT_WRITE:
                client.take(self._sending, due)
        except OSError:
            self._part(client)

    def _part(self, client: _Client) -> None:
        if client.watched:
            self._selector.unregister(client.socket)
        with contextlib.suppress(OSError):
            client.socket.shutdown(socket.SHUT_WR)
        client.socket.close()
        self._clients.remove(client)

    def _close(self) -> None:
        for client in list(self._clients):
            self._part(client)
        self._selector.close()
        self._listener.close()


def _resolved(host: str, port: int) -> str:
    try:
        return str(socket.getaddrinfo(host, port)[0][4][0])
    except (OSError, UnicodeError) as error:
        raise ResendError(f"{host} is no address known here; give a number such as {LOOPBACK}.") from error


def _is_here(address: str) -> bool:
    return ipaddress.ip_address(address.partition("%")[0]).is_loopback


def _family(address: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in address else socket.AF_INET


def _bound(out: socket.socket, host: str) -> None:
    try:
        out.bind((_resolved(host, 0), 0))
    except OSError as error:
        raise ResendError(f"--host {host} is no address of this machine; give one that is.") from error


def _shown(address: str, port: int) -> str:
    return f"[{address}]:{port}" if ":" in address else f"{address}:{port}"
