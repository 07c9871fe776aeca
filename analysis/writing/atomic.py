"""A file is written whole or not at all: the old one stands until the new one is safe on the disk."""

import errno
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from analysis.errors import WriteError

_REMEDIES = {
    errno.ENOSPC: "the disk is full; free some space or choose another folder",
    errno.EDQUOT: "your share of the disk is used up; free some space or choose another folder",
    errno.EFBIG: "the file would grow larger than is allowed here; choose another folder or a smaller log",
    errno.EACCES: "writing there is not permitted; choose a folder you may write to",
    errno.EPERM: "writing there is not permitted; choose a folder you may write to",
    errno.EROFS: "that disk can only be read; choose a folder on another one",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
}


def check_target(path: Path) -> Path:
    """Return the file that writing to ``path`` would replace, links followed.

    Raises WriteError where the folder is missing or ``path`` is a folder, a device or a pipe.
    """
    try:
        target = path.resolve()
        folder_is_there = target.parent.is_dir()
        unfit = target.exists() and not target.is_file()
    except (OSError, RuntimeError) as error:
        raise _explained(error, path) from error
    if not folder_is_there:
        message = (
            f"{path} cannot be written: there is no folder {path.parent}; create it or choose another one."
        )
        raise WriteError(message)
    if unfit:
        raise WriteError(f"{path} cannot be written: it is not an ordinary file; give the name of a file.")
    return target


@contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """Open a stream whose content becomes the file ``path`` when the block ends well.

    Raises WriteError when the disk, the folder or a permission refuses; then, as after any other
    exception, a file that stood at ``path`` stands there unchanged and nothing else is left behind.
    """
    target = check_target(path)
    part = target.with_name(f".sternlog-{secrets.token_hex(6)}.part")
    try:
        with part.open("xb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            shutil.copymode(target, part)
        part.replace(target)
    except OSError as error:
        raise _explained(error, path) from error
    finally:
        part.unlink(missing_ok=True)


def _explained(error: OSError | RuntimeError, path: Path) -> WriteError:
    remedy = _REMEDIES.get(getattr(error, "errno", None) or 0)
    reason = remedy or f"{getattr(error, 'strerror', None) or error}; choose another place"
    return WriteError(f"{path} could not be written: {reason}. An earlier file of that name is unchanged.")
