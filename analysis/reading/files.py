"""From paths to bytes: folders, compression and encodings, in pieces that end with a line."""

import codecs
import gzip
import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Protocol, cast

import zstandard

from analysis.errors import LogError

if TYPE_CHECKING:
    from typing_extensions import Buffer

PIECE_BYTES, LEAST_PIECE_BYTES, PIECES = 4 << 20, 1 << 20, 2
_PACKED_BYTES = 1 << 20
_BROKEN = (EOFError, zlib.error, zipfile.BadZipFile, gzip.BadGzipFile, zstandard.ZstdError)
_ENCRYPTED = 1  # bit 0 of a zip member's flags
_UTF16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}


class Peekable(Protocol):
    """A binary stream that can be looked into without moving on."""

    def peek(self, size: int = ..., /) -> bytes:
        """Return bytes from the current place without advancing."""
        ...

    def read1(self, size: int = ..., /) -> bytes:
        """Return what one read of the source gives."""
        ...


class BrokenOffError(Exception):
    """Raised after the last good piece of a compressed stream that ends too early."""


@dataclass(frozen=True)
class LogFile:
    """One stream of log text: its name for messages, the path it lives in, and the zip member if any."""

    name: str
    path: Path
    member: str | None = None


def find_files(paths: list[Path]) -> list[LogFile]:
    """List the log streams under files and folders, in the order given, folders sorted by name.

    Names that begin with a dot are left out. Raises LogError where a path does not exist or may not be
    read, a folder holds no file, or a zip archive is damaged or locked.
    """
    found: list[LogFile] = []
    for path in paths:
        try:
            found += [log for inside in _files(path) for log in _streams(inside)]
        except zipfile.BadZipFile as error:
            raise LogError(
                f"{path}: the zip archive is damaged; unpack it with a repair tool first."
            ) from error
        except PermissionError as error:
            raise LogError(f"{path}: reading is not permitted; change the file's permissions.") from error
        except OSError as error:
            raise LogError(
                f"{path}: cannot be read ({error.strerror}); copy the log to this machine."
            ) from error
    return found


def _files(path: Path) -> list[Path]:
    if path.is_dir():
        inside = sorted(p for p in path.rglob("*") if p.is_file() and not p.name.startswith("."))
        if not inside:
            raise LogError(f"{path}: the folder holds no file; give a folder with NMEA 0183 logs in it.")
        return inside
    if not path.exists():
        raise LogError(f"{path}: there is no such file or folder; check the path.")
    return [path]


def _streams(path: Path) -> list[LogFile]:
    with path.open("rb") as stream:
        is_zip = stream.read(4) == b"PK\x03\x04"
    if not is_zip:
        return [LogFile(_readable(path.name), path)]
    with zipfile.ZipFile(path) as archive:
        members = [
            m for m in archive.infolist() if not m.is_dir() and not Path(m.filename).name.startswith(".")
        ]
    if any(member.flag_bits & _ENCRYPTED for member in members):
        raise LogError(f"{path}: the zip archive is locked with a password; unpack it first.")
    return [LogFile(f"{path.name}/{name}", path, name) for name in sorted(m.filename for m in members)]


def _readable(name: str) -> str:
    """Make a file name that can be printed and stored, whatever its bytes."""
    return name.encode(errors="replace").decode()


def pieces(log: LogFile, size: int | None = None) -> Iterator[bytes]:
    """Yield the stream's text in pieces of ``size`` to twice that many bytes that end with a line.

    Without a size, pieces small enough to share among workers and large enough to be worth it.

    The last one ends with the stream and may be shorter if it is the only one. A compressed stream that
    breaks off yields what could be unpacked, then raises BrokenOffError.
    """
    if size is None:
        size = min(max(log.path.stat().st_size // PIECES + 1, LEAST_PIECE_BYTES), PIECE_BYTES)
    held = b""
    broken = False
    with ExitStack() as opened:
        try:
            for block in _as_bytes(_unpacked(_opened(log, opened), opened), size):
                held += block
                while len(held) >= 2 * size:
                    cut = _line_end(held, size)
                    yield held[:cut]
                    held = held[cut:]
        except (BrokenOffError, *_BROKEN):
            broken = True
    if held:
        yield held
    if broken:
        raise BrokenOffError


def _opened(log: LogFile, opened: ExitStack) -> Peekable:
    raw = opened.enter_context(log.path.open("rb"))
    if log.member is None:
        return raw
    archive = opened.enter_context(zipfile.ZipFile(raw))
    return cast(Peekable, opened.enter_context(archive.open(log.member)))


def _line_end(text: bytes, near: int) -> int:
    """Find where to cut ``text`` near a byte: after a line, else before a sentence, else there."""
    cut = max(text.rfind(b"\n", 0, near), text.rfind(b"\r", 0, near)) + 1
    while cut and text[cut : cut + 1] in (b"\r", b"\n"):
        cut += 1
    return cut or max(text.rfind(b"$", 1, near), text.rfind(b"!", 1, near), 0) or near


def _unpacked(stream: Peekable, opened: ExitStack) -> Peekable:
    magic = stream.peek(4)[:4]
    if magic[:2] == b"\x1f\x8b":
        unzipped = opened.enter_context(gzip.GzipFile(fileobj=cast(BinaryIO, stream), mode="rb"))
        return _unpacked(cast(Peekable, unzipped), opened)
    if magic == b"\x28\xb5\x2f\xfd":
        return _unpacked(opened.enter_context(io.BufferedReader(_Zstandard(stream))), opened)
    return stream


class _Zstandard(io.RawIOBase):
    """What is packed in a stream of zstd frames; raises EOFError where the last frame breaks off."""

    def __init__(self, packed: Peekable) -> None:
        self._packed = packed
        self._frame = zstandard.ZstdDecompressor().decompressobj()
        self._unread = b""
        self._ready = memoryview(b"")

    def readable(self) -> bool:
        return True

    def readinto(self, target: "Buffer", /) -> int:
        while not self._ready:
            block = self._unread or self._packed.read1(_PACKED_BYTES)
            if not block:
                if self._frame.eof:
                    return 0
                raise EOFError
            if self._frame.eof:
                self._frame = zstandard.ZstdDecompressor().decompressobj()
            self._ready = memoryview(self._frame.decompress(block))
            self._unread = self._frame.unused_data
        view = memoryview(target).cast("B")
        count = min(len(view), len(self._ready))
        view[:count], self._ready = self._ready[:count], self._ready[count:]
        return count


def _as_bytes(stream: Peekable, size: int) -> Iterator[bytes]:
    start = stream.peek(64)[:64]
    encoding = _UTF16.get(start[:2]) if b"\0" in start else None
    decoder = codecs.getincrementaldecoder(encoding)("replace") if encoding else None
    held: list[bytes] = []
    broken = False
    while not broken:
        try:
            block = stream.read1(size)
        except _BROKEN:
            broken, block = True, b""
        if block:
            held.append(decoder.decode(block).encode() if decoder else block)
        if not block or sum(map(len, held)) >= size:
            if held:
                yield b"".join(held)
            held = []
        if not block and not broken:
            return
    raise BrokenOffError
