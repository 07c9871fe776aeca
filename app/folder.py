"""The folder whose logs the page offers: nothing outside it, nothing hidden."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path, PurePosixPath

from analysis.errors import LogError

PACKED = (".gz", ".zip", ".zst")
MOST = 2000
_HEAD_BYTES = 1 << 16
_SENTENCE = re.compile(rb"[$!]\0?[A-Z](?:\0?[A-Z0-9]){4,5}\0?,")


@dataclass(frozen=True)
class Entry:
    """A file or a folder that may be opened; ``path`` counts from the folder chosen."""

    name: str
    path: str
    bytes: int
    modified_ms: float


@dataclass(frozen=True)
class Listing:
    """What a folder holds. ``above`` is the path of the folder above, None at the top; ``cut`` says there is more."""

    path: str
    above: str | None
    folders: tuple[Entry, ...]
    logs: tuple[Entry, ...]
    cut: bool


class Folder:
    """A folder of logs and what lies below it."""

    def __init__(self, root: Path) -> None:
        """Raises LogError where there is no such folder."""
        if not root.is_dir():
            raise LogError(f"{root}: there is no such folder; check the path.")
        self._root = root.resolve()

    @property
    def name(self) -> str:
        """Its own name."""
        return str(self._root)

    def inside(self, path: str) -> Path:
        """Find what ``path`` names. Raises LogError where that lies outside, is hidden, or is not there."""
        try:
            found = (self._root / path).resolve(strict=True)
            allowed = found.is_relative_to(self._root)
        except (OSError, ValueError, RuntimeError):
            allowed = False
        if not allowed or any(part.startswith(".") for part in found.relative_to(self._root).parts):
            raise LogError(
                f"{path!r} is not among the recordings of {self._root}; choose one that is listed."
            )
        return found

    def listing(self, path: str = "") -> Listing:
        """List the folders and the logs in a folder, the newest log first.

        Raises LogError where it may not be listed.
        """
        folder = self.inside(path)
        try:
            names = list(islice((one.name for one in folder.iterdir()), MOST + 1))
        except OSError as error:
            raise LogError(f"{folder} cannot be listed ({error.strerror}); choose another folder.") from error
        here = PurePosixPath(folder.relative_to(self._root).as_posix())
        entries = list(self._entries(here, names[:MOST]))
        return Listing(
            path="" if here == PurePosixPath() else str(here),
            above=None if here == PurePosixPath() else str(here.parent).removeprefix("."),
            folders=tuple(sorted((one for one, is_folder in entries if is_folder), key=_by_name)),
            logs=tuple(sorted((one for one, is_folder in entries if not is_folder), key=_newest)),
            cut=len(names) > MOST,
        )

    def _entries(self, here: PurePosixPath, names: list[str]) -> Iterator[tuple[Entry, bool]]:
        for name in names:
            try:
                found = self.inside(str(here / name))
                status = found.stat()
                is_folder = found.is_dir()
                offered = is_folder or (found.is_file() and _looks_like_a_log(found))
            except (LogError, OSError):
                continue
            if offered:
                path = str(here / name)
                yield Entry(_readable(name), path, status.st_size, status.st_mtime * 1000), is_folder


def _looks_like_a_log(path: Path) -> bool:
    if path.suffix.lower() in PACKED:
        return True
    with path.open("rb") as stream:
        return _SENTENCE.search(stream.read(_HEAD_BYTES)) is not None


def _readable(name: str) -> str:
    return name.encode(errors="replace").decode()


def _by_name(entry: Entry) -> str:
    return entry.name.casefold()


def _newest(entry: Entry) -> tuple[float, str]:
    return -entry.modified_ms, entry.name.casefold()
