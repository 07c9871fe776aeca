"""One piece of a log: from bytes to columns, with a verdict on every sentence."""

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
import pandas as pd

from analysis.kernels import ABSENT, MATCHES, Offsets
from analysis.passage import Bools, Floats, Ints
from analysis.reading import ais, calls, decoding, notices, others, stamps, waypoints
from analysis.reading.calls import Event
from analysis.reading.digits import word_at
from analysis.reading.framing import Frames, frame
from analysis.reading.mending import mend
from analysis.reading.waypoints import Waypoint
from analysis.sentences import SENTENCES, SPECIAL


class Verdict(IntEnum):
    """What became of a sentence. The first is accepted, those after IMPLAUSIBLE are ignored, the rest rejected.

    An IMPLAUSIBLE sentence carried a physically impossible value; its other values are kept.
    """

    ACCEPTED = 0
    CHECKSUM = 1
    MALFORMED = 2
    TRUNCATED = 3
    NO_CHECKSUM = 4
    IMPLAUSIBLE = 5
    UNKNOWN = 6
    REPEATED = 7


REJECTED = tuple(v for v in Verdict if Verdict.ACCEPTED < v <= Verdict.IMPLAUSIBLE)
IGNORED = tuple(v for v in Verdict if v > Verdict.IMPLAUSIBLE)
DAMAGED = tuple(v for v in REJECTED if v is not Verdict.IMPLAUSIBLE)

_SAMPLE = 2000

ReadingKey = tuple[str, str, str, str]
"""Formatter, channel, unit, transducer name."""


@dataclass
class Piece:
    """Columns of one piece; ``row`` arrays index into its sentences, ``lines`` counts its lines.

    ``address`` and ``device`` index ``addresses`` and ``devices``; ``stamp`` is what the recorder wrote beside
    each sentence; ``ports`` and ``forward_stamps`` hold (row, value) of sentences that speak for those after
    them; ``clock`` holds the formatter with rows, time of day, day, trust.
    """

    lines: int
    line: Ints
    address: Ints
    addresses: list[str]
    stamp: stamps.Beside
    verdict: np.ndarray
    verified: Bools
    fingerprint: np.ndarray
    length: np.ndarray
    readings: dict[ReadingKey, tuple[Offsets, Floats]] = field(default_factory=dict)
    out_of_range: dict[str, int] = field(default_factory=dict)
    impossible: dict[str, list[Floats]] = field(default_factory=dict)
    clock: list[tuple[str, tuple[Ints, Floats, Floats, Bools]]] = field(default_factory=list)
    fragments: list[pd.DataFrame] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    waypoints: list[Waypoint] = field(default_factory=list)
    ports: list[tuple[Ints, Floats]] = field(default_factory=list)
    forward_stamps: list[tuple[Ints, Floats]] = field(default_factory=list)
    mended: int = 0


def split_address(address: str) -> tuple[str, str]:
    """Talker and formatter of an address; a proprietary one has talker P, an irregular one none."""
    if address.startswith("P"):
        return "P", address[1:]
    if len(address) == 5:
        return address[:2], address[2:]
    return "", address


def framed(data: bytes) -> tuple[Frames, int]:
    """Find the sentences of one piece of a log, broken lines mended; returns them and how many were."""
    frames = frame(data)
    repaired, mended = mend(data, frames)
    return (frames if repaired is data else frame(repaired)), mended


def read_piece(data: bytes) -> Piece:
    """Frame, judge and decode one piece of a log; its lines count from 1."""
    frames, mended = framed(data)
    address, addresses = _addresses(frames)
    verdict = _judge(frames, address, addresses)
    piece = Piece(
        lines=frames.lines,
        line=frames.line.astype(np.int32),
        address=address,
        addresses=addresses,
        stamp=_stamps(frames),
        verdict=verdict,
        verified=frames.checksum == MATCHES,
        fingerprint=frames.fingerprint,
        length=np.minimum(frames.end - frames.start + 2, 255).astype(np.uint8),
        mended=mended,
    )
    _decode_all(frames, piece)
    return piece


def _judge(frames: Frames, address: Ints, addresses: list[str]) -> np.ndarray:
    """Verdicts before decoding; an odd talker is believed only where a checksum vouches for it."""
    odd = np.array([not name.isalnum() for name in addresses], dtype=bool)
    verdict = np.full(len(frames), Verdict.ACCEPTED, dtype=np.uint8)
    verdict[frames.cut & (frames.checksum == ABSENT)] = Verdict.TRUNCATED
    verdict[(frames.checksum != MATCHES) & (frames.checksum != ABSENT)] = Verdict.CHECKSUM
    verdict[~frames.printable] = Verdict.MALFORMED
    if odd.any():
        verdict[odd[address] & (frames.checksum == ABSENT)] = Verdict.MALFORMED
    return verdict


def _addresses(frames: Frames) -> tuple[Ints, list[str]]:
    """Index of each sentence's address in a list of the distinct ones; "" where it is no proper address.

    Two odd characters for the talker (recorders write ``--`` or ``=I``) do not spoil a proper formatter.
    """
    mixed = frames.key ^ frames.width.astype(np.uint64)
    long = np.flatnonzero(frames.width > 8)
    if long.size:
        rest = word_at(frames.text, frames.start[long] + 9, frames.width[long] - 8)
        mixed[long] ^= rest * np.uint64(0x9E3779B97F4A7C15)
    usual = np.unique(mixed[:_SAMPLE])
    code = np.minimum(np.searchsorted(usual, mixed), len(usual) - 1) if len(mixed) else np.empty(0, np.int64)
    strange = usual[code] != mixed if len(mixed) else np.empty(0, bool)
    if strange.any():
        usual = np.union1d(usual, mixed[strange])
        code = np.searchsorted(usual, mixed)
    code = code.astype(np.int16)
    first = np.zeros(len(usual), dtype=np.int64)
    first[code[::-1]] = np.arange(len(code))[::-1]
    names = []
    for row in first:
        raw = bytes(frames.text.bytes[frames.start[row] + 1 : frames.start[row] + 1 + frames.width[row]])
        known = raw[2:] if len(raw) == 5 else raw
        proper = raw.isascii() and known.isalnum() and known.upper() == known
        names.append(raw.decode("ascii") if proper else "")
    return code, names


def _stamps(frames: Frames) -> stamps.Beside:
    """What stands before each sentence, completed by what stands behind it where there is no stamp before."""
    before = stamps.read_beside(frames.text, frames.prefix, frames.start, after=False)
    unstamped = before.kind == 0
    if not (frames.suffix_end - frames.end > 8)[unstamped].any():
        return before
    end = np.where(unstamped, frames.suffix_end, frames.end)
    behind = stamps.read_beside(frames.text, frames.end, end, after=True)
    return stamps.Beside(
        np.where(unstamped, behind.stamp_s, before.stamp_s),
        np.where(unstamped, behind.kind, before.kind),
        np.where(unstamped, behind.zoned, before.zoned),
        before.device,
        before.devices,
    )


def _decode_all(frames: Frames, piece: Piece) -> None:
    good = piece.verdict == Verdict.ACCEPTED
    order = np.argsort(piece.address, kind="stable")
    borders = np.searchsorted(piece.address[order], np.arange(len(piece.addresses) + 1))
    by_formatter: dict[str, list[Ints]] = {}
    for code, name in enumerate(piece.addresses):
        rows = order[borders[code] : borders[code + 1]]
        if name == "":
            piece.verdict[rows[good[rows]]] = Verdict.MALFORMED
            continue
        talker, formatter = split_address(name)
        by_formatter.setdefault(("P" if talker == "P" else "") + formatter, []).append(rows)
    for formatter, parts in by_formatter.items():
        rows = np.sort(np.concatenate(parts)) if len(parts) > 1 else parts[0]
        rows = rows if good.all() else rows[good[rows]]
        if rows.size:
            _decode_formatter(frames, rows, formatter, piece)


def _decode_formatter(frames: Frames, rows: Ints, formatter: str, piece: Piece) -> None:
    if formatter in notices.FORMATTERS:
        talkers = [split_address(piece.addresses[code])[0] for code in piece.address[rows]]
        piece.events += notices.notices(frames, rows, talkers, formatter)
    if formatter in SENTENCES:
        decoded = decoding.decode(frames, rows, SENTENCES[formatter])
    elif formatter == "XDR":
        decoded = decoding.decode_transducers(frames, rows)
    elif formatter in ("VDM", "VDO"):
        talkers = [split_address(piece.addresses[code])[0] for code in piece.address[rows]]
        parts, bad = ais.fragments(frames, rows, talkers, formatter == "VDO")
        piece.fragments.append(parts)
        piece.verdict[bad] = Verdict.MALFORMED
        return
    elif formatter in SPECIAL:
        decoded, events = calls.decode_calls(frames, rows, formatter)
        piece.events += events
    elif formatter in stamps.FORWARD:
        stamps.read_forward(frames, rows, formatter, piece.ports, piece.forward_stamps)
        return
    elif others.known_fields(formatter) is not None:
        decoded = others.decode_other(frames, rows, formatter)
    else:
        if formatter not in notices.FORMATTERS:
            piece.verdict[rows] = Verdict.UNKNOWN
        return
    for at in decoded.implausible:
        piece.verdict[at] = Verdict.IMPLAUSIBLE
    for at in decoded.malformed:
        piece.verdict[at] = Verdict.MALFORMED
    if formatter in waypoints.FORMATTERS:
        usable = np.isin(piece.verdict[rows], (Verdict.ACCEPTED, Verdict.IMPLAUSIBLE))
        piece.waypoints += waypoints.decode_waypoints(frames, rows[usable], formatter)
    for channel, count in decoded.out_of_range.items():
        piece.out_of_range[channel] = piece.out_of_range.get(channel, 0) + count
    for channel, values in decoded.impossible.items():
        piece.impossible.setdefault(channel, []).extend(values)
    for (channel, unit, name), columns in decoded.readings.items():
        piece.readings[formatter, channel, unit, name] = columns
    piece.clock += [(formatter, reading) for reading in decoded.clock]
