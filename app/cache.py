"""What was worked out is kept on this machine, so that the same log opens at once the next time.

An entry belongs to what the files hold and are called, to the settings, and to the program's own text.
"""

import hashlib
import os
import sys
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache
from pathlib import Path

import analysis
from analysis.reading.files import find_files
from analysis.review import Review, Settings

from .packing import PackingError, fingerprint, pack, unpack

LIMIT_BYTES = 2 << 30
_BLOCK_BYTES = 1 << 20
_UNFINISHED = ".unfinished"


def content_key(paths: Sequence[Path], settings: Settings) -> str:
    """Name a passage by its files' names and bytes and by the settings.

    Raises LogError where a file cannot be read.
    """
    digest = hashlib.blake2b(digest_size=10)
    _add_files(digest, paths)
    company = settings.company
    if company is not None:
        _add_files(digest, [Path(one) for one in ([company] if isinstance(company, str | Path) else company)])
    digest.update(fingerprint(replace(settings, company=None)))
    return digest.hexdigest()


class Cache:
    """Reviews on disk by key, in a private folder that is kept below a limit; the longest unused go first."""

    def __init__(self, folder: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self._folder = folder
        self._limit_bytes = limit_bytes

    def load(self, key: str) -> Review | None:
        """Return what is kept under the key; None where there is nothing or it is damaged."""
        path = self._path(key)
        try:
            with path.open("rb") as stream:
                kept = unpack(stream)
            path.touch()
        except (OSError, PackingError):
            return None
        return kept if isinstance(kept, Review) else None

    def keep(self, key: str, review: Review) -> None:
        """Keep a review; that it is too large, or the disk is full or not to be written to, is no error."""
        if review.passage.counts.bytes > self._limit_bytes:
            return
        with suppress(OSError):
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(_UNFINISHED, dir=self._folder)
            unfinished = Path(name)
            try:
                with os.fdopen(handle, "wb") as stream:
                    pack(review, stream)
                unfinished.replace(self._path(key))
            finally:
                unfinished.unlink(missing_ok=True)
            self._make_room()

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}-{_program()}.npz"

    def _make_room(self) -> None:
        """Delete the longest unused entries beyond the limit."""
        entries = [(path.stat(), path) for path in self._folder.iterdir()]
        total = 0
        for status, path in sorted(entries, key=lambda entry: entry[0].st_mtime, reverse=True):
            total += status.st_size
            if total > self._limit_bytes:
                path.unlink(missing_ok=True)


def cache_folder() -> Path:
    """Find the user's folder for what can be made again."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        named = Path(os.environ.get("XDG_CACHE_HOME", ""))
        base = named if named.is_absolute() else home / ".cache"
    return base / "sternlog" / "passages"


def _add_files(digest: "hashlib.blake2b", paths: Sequence[Path]) -> None:
    for path in dict.fromkeys(log.path for log in find_files(list(paths))):
        whole = hashlib.blake2b(digest_size=32)
        with path.open("rb", buffering=0) as stream:
            while block := stream.read(_BLOCK_BYTES):
                whole.update(block)
        digest.update(f"{path.name!r} ".encode())
        digest.update(whole.digest())


@cache
def _program() -> str:
    """Name the text of the analysis: what another version worked out is not taken for this one's."""
    root = Path(analysis.__file__).parent
    digest = hashlib.blake2b(digest_size=5)
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()
