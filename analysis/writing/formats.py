"""The ending of a file's name says its format."""

from collections.abc import Iterable
from pathlib import Path

from analysis.errors import WriteError


def suffix_among(path: Path, known: Iterable[str]) -> str:
    """Return the ending of ``path`` in lower case; raises WriteError when it is not among ``known``."""
    suffix = path.suffix.lower()
    endings = list(known)
    if suffix not in endings:
        given = f"ends in {path.suffix}" if path.suffix else "has no ending"
        raise WriteError(f"{path} {given}; give a name that ends in {' or '.join(endings)}.")
    return suffix
