"""Where the program's own files lie."""

from pathlib import Path


def assets() -> Path:
    """Find the folder of the pages' own files: in the package once installed, beside it in the sources."""
    inside = Path(__file__).parent / "assets"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "assets"
