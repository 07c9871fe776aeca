"""Files that a browser sends: what they may be called, how they are kept, what is said of them."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import IO

from analysis.errors import LogError

LONGEST_NAME = 120
BLOCK_BYTES = 1 << 16
_NOT_IN_NAMES = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')


def safe_name(name: str) -> str:
    """Make a file's name of what the browser calls it; it may not lead anywhere, nor be hidden."""
    last = name.replace("\\", "/").rpartition("/")[2]
    plain = _NOT_IN_NAMES.sub("_", last).strip(" .").encode(errors="replace").decode()
    stem, dot, ending = plain.rpartition(".")
    return (f"{stem[: LONGEST_NAME - 20]}{dot}{ending[:20]}" if dot else plain[:LONGEST_NAME]) or "log"


def without_folders(text: str, files: Sequence[Path]) -> str:
    """Leave out of a text the folders that files were kept in."""
    for file in files:
        text = text.replace(f"{file.parent}/", "").replace(f"{file.parent}\\", "")
    return text


def keep(stream: IO[bytes], path: Path, most_bytes: int) -> None:
    """Write what a stream gives to a file. Raises LogError where it is too much, or there is no room."""
    kept = 0
    try:
        with path.open("wb") as target:
            while block := stream.read(BLOCK_BYTES):
                kept += len(block)
                if kept > most_bytes:
                    raise LogError(
                        f"{path.name}: is larger than {most_bytes / 1e6:.0f} MB; cut it to this passage."
                    )
                target.write(block)
    except OSError as error:
        raise LogError(
            f"{path.name}: could not be kept while it is read ({error.strerror}); free some space."
        ) from error
