"""A review as one file and back: its arrays as they are, the tree that holds them as JSON; nothing in it is run.

The file is a zip of ``.npy`` arrays, whose checksums tell a damaged one.
"""

import dataclasses
import hashlib
import sys
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO
from zipfile import BadZipFile

import numpy as np
import orjson
import pandas as pd

_TREE = "tree"
_OURS = "analysis."
_UNREADABLE = (BadZipFile, OSError, EOFError, ValueError, TypeError, KeyError, IndexError, AttributeError)


class PackingError(Exception):
    """A file that does not hold what was packed."""


def pack(value: Any, stream: BinaryIO) -> None:
    """Write a value made of dataclasses, tables, arrays, containers and scalars.

    Raises TypeError for anything else.
    """
    tree, arrays = _parts(value)
    named = {f"a{number}": array for number, array in enumerate(arrays)}
    np.savez(stream, allow_pickle=False, **{_TREE: np.frombuffer(tree, np.uint8)}, **named)


def unpack(stream: BinaryIO) -> Any:
    """Read what ``pack`` wrote. Raises PackingError where it is damaged or was made by another version."""
    try:
        with np.load(stream, allow_pickle=False) as arrays:
            return _Unpacker(arrays).read(orjson.loads(arrays[_TREE].tobytes()))
    except _UNREADABLE as error:
        raise PackingError(str(error)) from error


def fingerprint(value: Any, size: int = 16) -> bytes:
    """Condense what ``pack`` would write; equal values have equal fingerprints."""
    tree, arrays = _parts(value)
    digest = hashlib.blake2b(tree, digest_size=size)
    for array in arrays:
        digest.update(f"{array.dtype.str}{array.shape}".encode())
        digest.update(array.tobytes())
    return digest.digest()


def _parts(value: Any) -> tuple[bytes, list[np.ndarray]]:
    packer = _Packer()
    tree = orjson.dumps(packer.write(value))
    return tree, packer.arrays


class _Packer:
    """Turns values into JSON; arrays are set aside, each once, however often it is met."""

    def __init__(self) -> None:
        self.arrays: list[np.ndarray] = []
        self._numbers: dict[tuple[Any, ...], int] = {}

    def write(self, value: Any) -> Any:
        if value is None or isinstance(value, str) or type(value) in (bool, int):
            return value
        if type(value) is float:
            return value if np.isfinite(value) else {"float": repr(value)}
        name, what = self._named(value)
        return {name: what}

    def _named(self, value: Any) -> tuple[str, Any]:
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            fields = [getattr(value, field.name) for field in dataclasses.fields(value)]
            return "made", [_name(type(value)), *map(self.write, fields)]
        if isinstance(value, tuple):
            named = hasattr(value, "_fields")
            return (
                ("made", [_name(type(value)), *map(self.write, value)])
                if named
                else self._all("tuple", value)
            )
        if isinstance(value, list):
            return self._all("list", value)
        if isinstance(value, Mapping):
            return "dict", [[self.write(key), self.write(one)] for key, one in value.items()]
        if isinstance(value, np.ndarray):
            return "array", self._array(value)
        if isinstance(value, np.generic):
            return "number", self._array(np.asarray(value))
        if isinstance(value, pd.DataFrame):
            columns = [[name, self._column(value[name])] for name in value.columns]
            return "table", [self._column(value.index), columns]
        if isinstance(value, pd.Index):
            return "index", self._column(value)
        if isinstance(value, pd.Timestamp):
            return "time", value.isoformat()
        if isinstance(value, date):
            return "date", value.isoformat()
        if isinstance(value, Path):
            return "path", str(value)
        raise TypeError(f"a {type(value)} cannot be packed")

    def _all(self, name: str, values: tuple[Any, ...] | list[Any]) -> tuple[str, Any]:
        return name, [self.write(one) for one in values]

    def _column(self, column: "pd.Series[Any] | pd.Index[Any]") -> list[Any]:
        """Kind, name of the index, and values."""
        name = column.name if isinstance(column, pd.Index) else None
        if isinstance(column, pd.RangeIndex):
            return ["range", name, [column.start, column.stop, column.step]]
        if isinstance(column.dtype, pd.DatetimeTZDtype):
            plain = column.to_numpy(f"datetime64[{column.dtype.unit}]")
            return [str(column.dtype), name, self._array(plain.view(np.int64))]
        if isinstance(column.dtype, np.dtype) and column.dtype != object:
            return [str(column.dtype), name, self._array(column.to_numpy())]
        values = [None if one is pd.NA else self.write(one) for one in column.tolist()]
        return [str(column.dtype), name, values]

    def _array(self, array: np.ndarray) -> list[Any]:
        """Number of the stored array, and its full length where one value stands for all."""
        if array.dtype == object:
            raise TypeError("an array of objects cannot be packed")
        if array.ndim == 1 and len(array) > 1 and array.strides == (0,):
            return [self._set_aside(array[:1]), len(array)]
        return [self._set_aside(array)]

    def _set_aside(self, array: np.ndarray) -> int:
        place = (array.__array_interface__["data"][0], array.shape, array.strides, array.dtype.str)
        number = self._numbers.setdefault(place, len(self.arrays))
        if number == len(self.arrays):
            self.arrays.append(array)
        return number


class _Unpacker:
    """Turns JSON and arrays back into values."""

    def __init__(self, arrays: Mapping[str, np.ndarray]) -> None:
        self._stored = arrays
        self._arrays: dict[int, np.ndarray] = {}
        self._makers: dict[str, Callable[[Any], Any]] = {
            "float": float,
            "made": lambda what: _class(what[0])(*map(self.read, what[1:])),
            "tuple": lambda what: tuple(map(self.read, what)),
            "list": lambda what: list(map(self.read, what)),
            "dict": lambda what: {self.read(key): self.read(one) for key, one in what},
            "array": self._array,
            "number": lambda what: self._array(what)[()],
            "table": self._table,
            "index": self._index,
            "time": pd.Timestamp,
            "date": date.fromisoformat,
            "path": Path,
        }

    def read(self, tree: Any) -> Any:
        if isinstance(tree, dict):
            ((name, what),) = tree.items()
            return self._makers[name](what)
        return tree

    def _table(self, what: list[Any]) -> pd.DataFrame:
        index = self._index(what[0])
        columns = {name: self._column(column, index) for name, column in what[1]}
        return pd.DataFrame(columns, index=index, copy=False)

    def _index(self, column: list[Any]) -> "pd.Index[Any]":
        kind, name, values = column
        if kind == "range":
            start, stop, step = values
            return pd.RangeIndex(start, stop, step, name=name)
        index: pd.Index[Any] = pd.Index(self._values(kind, values), name=name)
        return index

    def _column(self, column: list[Any], index: "pd.Index[Any]") -> "pd.Series[Any]":
        return pd.Series(self._values(column[0], column[2]), index=index, copy=False)

    def _values(self, kind: str, values: list[Any]) -> Any:
        if kind.startswith("datetime64") and "," in kind:
            unit = kind.removeprefix("datetime64[").split(",")[0]
            return pd.DatetimeIndex(self._array(values).view(f"datetime64[{unit}]")).tz_localize("UTC")
        if kind in ("object", "str"):
            return pd.Series([self.read(one) for one in values], dtype=kind).array
        return self._array(values)

    def _array(self, what: list[int]) -> np.ndarray:
        number, *length = what
        if number not in self._arrays:
            self._arrays[number] = self._stored[f"a{number}"]
        array = self._arrays[number]
        return np.broadcast_to(array[0], length[0]) if length else array


def _name(made: type) -> str:
    if not made.__module__.startswith(_OURS):
        raise TypeError(f"a {made} cannot be packed")
    return f"{made.__module__}:{made.__qualname__}"


def _class(name: str) -> type:
    """The class of a name: one of the program's own, whose module is loaded."""
    module, _, made = name.partition(":")
    found = getattr(sys.modules[module], made) if module.startswith(_OURS) else None
    if not isinstance(found, type) or not (dataclasses.is_dataclass(found) or issubclass(found, tuple)):
        raise PackingError(f"{name} is not known")
    return found
