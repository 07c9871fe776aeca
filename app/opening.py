"""Opening logs while the page waits: one after the other beside the server, each to be watched and broken off."""

import logging
import secrets
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Lock
from typing import IO

from analysis import Settings, review
from analysis.errors import LogError, SternlogError

from .cache import Cache, content_key
from .desk import Desk, Opened
from .folder import PACKED, Folder
from .sent_files import BLOCK_BYTES, safe_name, without_folders

_STEPS = {
    "screening": "Looking for what no sensor can mean",
    "calibrating": "Estimating what each instrument is off by",
    "correcting": "Correcting, and deriving wind and current",
    "judging": "Finding what to tell",
}


class _BrokenOffError(Exception):
    """The reader does not want it any more."""


@dataclass
class Job:
    """Logs on their way to the desk.

    ``stage`` says in words what is being done, ``done_bytes`` how far; ``total_bytes`` is None where that cannot
    be known. It ends with a ``key`` or an ``error``, or broken off.
    """

    id: str
    name: str
    files: list[Path]
    sizes: list[int]
    stage: str
    total_bytes: int | None
    done_bytes: int = 0
    key: str = ""
    error: str = ""
    broken_off: Event = field(default_factory=Event)

    @property
    def over(self) -> bool:
        """Whether nothing more happens to it."""
        return bool(self.key or self.error) or self.broken_off.is_set()


class Opener:
    """Opens logs onto a desk, by path or as they are sent, out of the cache where it has them."""

    def __init__(
        self,
        desk: Desk,
        settings: Settings | None = None,
        folder: Folder | None = None,
        cache: Cache | None = None,
    ) -> None:
        self.folder = folder
        self._desk = desk
        self._settings = settings or Settings()
        self._cache = cache
        self._jobs: dict[str, Job] = {}
        self._files: dict[str, list[Path]] = {}
        self._lock = Lock()
        self._worker = ThreadPoolExecutor(1)
        self._keeper = ThreadPoolExecutor(1)
        self._sent: tempfile.TemporaryDirectory[str] | None = None

    def files(self, key: str) -> list[Path]:
        """Name the files that a passage was opened from, dropped ones too, while they are all at hand; else none."""
        known = self._files.get(key, [])
        return list(known) if all(file.is_file() for file in known) else []

    def jobs(self) -> list[Job]:
        """List all jobs, the first started first."""
        return list(self._jobs.values())

    def open_now(self, paths: Sequence[Path]) -> Opened:
        """Open logs and wait for it. Raises SternlogError as ``review`` does."""
        return self._opened(paths, None)

    def open_paths(self, paths: Sequence[str]) -> Job:
        """Open files of the folder as one passage. Raises LogError for one that is not in it."""
        if self.folder is None or not paths:
            raise LogError("No recording was chosen; choose one that is listed.")
        files = [self.folder.inside(path) for path in paths]
        job = self._new(files, [file.stat().st_size for file in files], "Waiting")
        self._worker.submit(self._run, job)
        return job

    def expect(self, files: Sequence[tuple[str, int]]) -> Job:
        """Await files of these names and sizes [bytes], to be opened as one passage."""
        if not files or any(size < 0 for _, size in files):
            raise LogError("No file was sent; drop one or more recordings.")
        job = self._new([], [size for _, size in files], "Receiving")
        base = self._place_for_sent() / job.id
        for number, (name, _) in enumerate(files):
            folder = base / str(number)
            folder.mkdir(parents=True)
            job.files.append(folder / safe_name(name))
            job.files[-1].touch()
        job.name = _named(job.files)
        self._start_when_complete(job)
        return job

    def receive(self, job_id: str, number: int, start: int, stream: IO[bytes]) -> int:
        """Add what a stream gives to a file that is awaited, from byte ``start`` on; return the file's size.

        Raises LogError where no such file is awaited or the bytes do not follow on those before.
        """
        job = self._jobs.get(job_id)
        if job is None or job.over or job.stage != "Receiving" or not 0 <= number < len(job.files):
            raise LogError("This file is not awaited; drop it again.")
        path, size = job.files[number], job.sizes[number]
        try:
            with path.open("r+b") as target:
                if target.seek(0, 2) != start:
                    raise LogError(f"{path.name} came in the wrong order; drop it again.")
                while (block := stream.read(BLOCK_BYTES)) and not job.broken_off.is_set():
                    if target.tell() + len(block) > size:
                        raise LogError(f"{path.name} changed while it was sent; drop it again.")
                    target.write(block)
                    job.done_bytes += len(block)
                end = target.tell()
        except OSError as error:
            self._fail(
                job, f"{path.name} could not be kept while it is read ({error.strerror}); free some space."
            )
            raise LogError(job.error) from error
        if not job.broken_off.is_set():
            self._start_when_complete(job)
        return end

    def break_off(self, job_id: str) -> None:
        """Stop a job, or forget one that has ended."""
        job = self._jobs.pop(job_id, None)
        if job is not None:
            job.broken_off.set()
            if job.stage == "Receiving":
                self._forget_sent(job)

    def close(self) -> None:
        """Stop everything and delete what was sent."""
        for job in self.jobs():
            job.broken_off.set()
        self._worker.shutdown(cancel_futures=True)
        self._keeper.shutdown()
        if self._sent is not None:
            self._sent.cleanup()

    def _new(self, files: list[Path], sizes: list[int], stage: str) -> Job:
        job = Job(secrets.token_hex(8), _named(files), files, sizes, stage, sum(sizes))
        self._jobs[job.id] = job
        return job

    def _start_when_complete(self, job: Job) -> None:
        with self._lock:
            sizes = [file.stat().st_size for file in job.files]
            if job.stage == "Receiving" and not job.over and sizes == job.sizes:
                job.stage, job.done_bytes = "Waiting", 0
                self._worker.submit(self._run, job)

    def _run(self, job: Job) -> None:
        key = ""
        try:
            key = self._opened(job.files, job).key
        except _BrokenOffError:
            pass
        except SternlogError as error:
            self._fail(job, without_folders(str(error), job.files))
        except MemoryError:
            self._fail(job, f"{job.name} is too large for the memory of this machine; open a part of it.")
        except Exception as error:
            logging.getLogger(__name__).exception("%s could not be worked out", job.name)
            self._fail(
                job, f"{job.name} could not be worked out ({type(error).__name__}), by a mistake of ours."
            )
        finally:
            self._forget_sent(job)
        if key:
            job.stage, job.key = "Open", key

    def _opened(self, paths: Sequence[Path], job: Job | None) -> Opened:
        _tell(job, "Looking whether it was read before")
        key = content_key(paths, self._settings)
        opened = self._desk.find(key) or self._worked_out(key, paths, job)
        if not self.files(key):
            self._files[key] = list(paths)
        return opened

    def _worked_out(self, key: str, paths: Sequence[Path], job: Job | None) -> Opened:
        found = None if self._cache is None else self._cache.load(key)
        if found is None:
            _tell(job, "Reading")
            if job is not None:
                job.total_bytes = None if any(p.suffix.lower() in PACKED for p in paths) else sum(job.sizes)
            found = review(
                list(paths),
                self._settings,
                progress=lambda size: _advance(job, size),
                stage=lambda name: _tell(job, _STEPS[name]),
            )
            if self._cache is not None:
                self._keeper.submit(self._cache.keep, key, found)
        _tell(job, "Drawing")
        return self._desk.open(found, key)

    def _fail(self, job: Job, error: str) -> None:
        job.stage, job.error = "Failed", error
        self._forget_sent(job)

    def _place_for_sent(self) -> Path:
        with self._lock:
            if self._sent is None:
                self._sent = tempfile.TemporaryDirectory(prefix="sternlog-", ignore_cleanup_errors=True)
            return Path(self._sent.name)

    def _forget_sent(self, job: Job) -> None:
        """Delete what was sent, but for the files of an open passage, which may be asked for until closing."""
        if self._sent is not None:
            kept = {file for files in self._files.values() for file in files}
            for file in job.files:
                if file not in kept and file.is_relative_to(self._sent.name):
                    with suppress(OSError):
                        file.unlink()


def _tell(job: Job | None, stage: str) -> None:
    if job is not None:
        if job.broken_off.is_set():
            raise _BrokenOffError
        job.stage, job.total_bytes, job.done_bytes = stage, None, 0


def _advance(job: Job | None, size: int) -> None:
    if job is not None:
        if job.broken_off.is_set():
            raise _BrokenOffError
        job.done_bytes += size


def _named(files: Sequence[Path]) -> str:
    names = [file.name.encode(errors="replace").decode() for file in files]
    return (names[0] if names else "") + (f" and {len(names) - 1} more" if len(names) > 1 else "")
