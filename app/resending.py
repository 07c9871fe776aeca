"""Sending a log again at a page's wish: one at a time, in a thread of its own, to this machine alone."""

import logging
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from threading import Event, Lock, Thread

from analysis.errors import SettingError, SternlogError
from analysis.reading.spoken import spoken_parts
from analysis.review import Review
from analysis.spoken import Pacing, Spoken
from analysis.writing import corrected_parts, replaced_by_computed, spooled
from analysis.writing.nmea import COMPUTED, computed_parts

from .resend import LOOPBACK, Sending, TcpSender, send_udp

_HERE = ("127.0.0.1", "localhost", "::1")
_JOIN_S = 2.0


@dataclass(frozen=True)
class Wish:
    """What to send and how: to ``udp_port`` or to all who connect to ``tcp_port``, one of them None.

    ``start_s`` and ``end_s`` are seconds since 1970-01-01 UTC, None for all; ``pace`` 0 is as fast as it goes.
    """

    udp_port: int | None
    tcp_port: int | None
    pace: float = 1.0
    loop: bool = False
    start_s: float | None = None
    end_s: float | None = None
    corrected: bool = False


@dataclass(frozen=True)
class State:
    """How it stands: in words, whether it goes on, and which moment of the log is sent now [s since 1970]."""

    words: str = ""
    running: bool = False
    name: str = ""
    clients: int | None = None
    at_s: float | None = None


class Resender:
    """Sends one passage at a time."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._stop = Event()
        self._thread: Thread | None = None
        self._name = self._words = ""
        self._pacing: Pacing | None = None
        self._tcp: TcpSender | None = None
        self._begun: float | None = None

    def start(self, name: str, review: Review, files: Sequence[Path], wish: Wish) -> None:
        """Begin to send; what is being sent is stopped. Raises SettingError for what cannot be sent at all."""
        if not wish.corrected and not files:
            raise SettingError(NOT_AT_HAND)
        if wish.start_s is not None and wish.end_s is not None and wish.start_s >= wish.end_s:
            raise SettingError("The end is not after the start; give a later end.")
        with self._lock:
            self._halt()
            self._stop = Event()
            self._name, self._words = name, "Reading the recording …"
            self._pacing = self._tcp = self._begun = None
            self._thread = Thread(
                target=self._run, args=(review, list(files), wish, self._stop), daemon=True, name="resend"
            )
            self._thread.start()

    def stop(self) -> None:
        """Stop what is being sent."""
        with self._lock:
            self._halt()

    def state(self) -> State:
        """Tell how it stands."""
        running = self._thread is not None and self._thread.is_alive()
        tcp, pacing = self._tcp, self._pacing
        begun = tcp.begun if tcp is not None else self._begun
        at_s = None
        if running and pacing is not None and begun is not None and pacing.pace > 0:
            count = pacing.due(time.monotonic() - begun)
            at_s = float(pacing.time_s[max(count - 1, 0) % len(pacing.time_s)])
        return State(
            self._words, running, self._name, tcp.clients if running and tcp is not None else None, at_s
        )

    def _halt(self) -> None:
        self._stop.set()
        if self._thread is not None:
            self._thread.join(_JOIN_S)

    def _run(self, review: Review, files: list[Path], wish: Wish, stop: Event) -> None:
        try:
            spoken = _spoken(review, files, wish.corrected).between(wish.start_s, wish.end_s)
            sending = Sending(spoken, Pacing(spoken.time_s, wish.pace, wish.loop))
            if stop.is_set():
                return
            self._pacing = sending.pacing
            if wish.tcp_port is not None:
                self._tcp = TcpSender(sending, wish.tcp_port, None)
                self._tcp.run(self._say, stop.is_set)
            else:
                self._begun = time.monotonic()
                send_udp(sending, (LOOPBACK, wish.udp_port or 0), None, self._say, stop.is_set)
            self._say("Stopped." if stop.is_set() else "All of it is sent.")
        except (SternlogError, OSError) as error:
            self._say(str(error))
        except Exception as error:
            logging.getLogger(__name__).exception("sending again")
            self._say(f"It could not be sent ({type(error).__name__}), by a mistake of ours.")

    def _say(self, words: str) -> None:
        self._words = words


NOT_AT_HAND = (
    "The recording itself is not at hand: its file was moved, or sternlog was closed since it was dropped, and then "
    "only what was worked out of it is kept. Open or drop it again, or send the corrected values."
)


def loopback_port(text: str) -> int:
    """Read HOST:PORT, or PORT, of this machine. Raises SettingError for another machine or no port."""
    host, _, port = text.strip().rpartition(":")
    if host.strip("[]") not in ("", *_HERE):
        raise SettingError(
            f"{host} is not this machine. From the page only this machine is sent to; for another, use the command "
            "resend with --host."
        )
    if not port.isascii() or not port.isdecimal() or not 1 <= int(port) <= 65535:
        raise SettingError(f"{text or 'Nothing'} names no port; give one from 1 to 65535, such as 10110.")
    return int(port)


def _spoken(review: Review, files: list[Path], corrected: bool) -> Spoken:
    if not corrected:
        return spooled(spoken_parts(files, review.settings.date))
    if not files:
        return spooled(computed_parts(review.frame, review.passage, COMPUTED))
    others = spoken_parts(files, review.settings.date, without=replaced_by_computed(review.frame))
    return spooled(chain(others, corrected_parts(review.frame, review.passage)))
