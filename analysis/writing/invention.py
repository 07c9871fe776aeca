"""An invented log and its truth as files; the log is compressed when its name says so."""

import gzip
import io
import zipfile
from pathlib import Path

import orjson
import zstandard

from analysis.invent import Invention, Wrapping
from analysis.writing.atomic import check_target, replacing

_COMPRESSED = (".gz", ".zip", ".zst")


def write_invention(invention: Invention, path: Path, *, wrap: Wrapping = "bare") -> tuple[Path, Path]:
    """Write the log to ``path`` and the truth to ``<stem>.truth.json`` beside it; return both paths.

    ``wrap`` is a style of ``wrap_lines``. A name ending .gz, .zip or .zst is compressed; the same invention
    gives the same bytes. Raises WriteError when a file cannot be written, SettingError for another style.
    """
    beside = truth_path(path)
    check_target(beside)
    log = _packed(invention.log_bytes(wrap), path)
    with replacing(path) as stream:
        stream.write(log)
    with replacing(beside) as stream:
        stream.write(orjson.dumps(invention.truth, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
    return path, beside


def truth_path(path: Path) -> Path:
    """Return where the truth of a log stands: ``day.nmea.gz`` -> ``day.truth.json``."""
    plain = path.with_suffix("") if path.suffix.lower() in _COMPRESSED else path
    return plain.with_name(f"{plain.stem}.truth.json")


def _packed(log: bytes, path: Path) -> bytes:
    suffix = path.suffix.lower()
    if suffix == ".gz":
        return gzip.compress(log, compresslevel=9, mtime=0)
    if suffix == ".zst":
        return zstandard.ZstdCompressor(level=12).compress(log)
    if suffix == ".zip":
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            inner = zipfile.ZipInfo(path.stem, date_time=(2026, 1, 1, 0, 0, 0))
            archive.writestr(inner, log, compress_type=zipfile.ZIP_DEFLATED)
        return packed.getvalue()
    return log
