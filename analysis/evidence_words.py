"""The evidence of a finding as rows for a person: what it is called, and the number with its unit and ±."""

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95
from analysis.positions import position_text

_UNITS = {
    "kn": "kn", "deg": "°", "m": "m", "hpa": "hPa", "c": "°C", "s": "s", "min": "min", "h": "h", "percent": "%",
    "nm": "nm",
}  # fmt: skip
_ACRONYMS = {"sog", "cog", "stw", "awa", "aws", "twd", "tws", "twa", "hdop", "gnss", "utc"}
_SHARES = {"within_allowed", "dropouts_first", "dropouts_second", "share_of_zeros"}
_NEVER = {"channel", "fact", "cause", "words"}


class Row(NamedTuple):
    """One piece of evidence: what it is called, and what it says."""

    name: str
    text: str


def evidence_rows(evidence: Mapping[str, object]) -> list[Row]:
    """Write the evidence that is one number, word or moment, or a list of named values with their one-sigmas.

    A number ``x`` with an ``x_sd`` beside it gets its ± at 95 %; what is unknown is left out.
    """
    return list(_rows(evidence))


def _rows(evidence: Mapping[str, object]) -> Iterator[Row]:
    for key, value in evidence.items():
        base = key.removesuffix("_sd")
        if value is None or key in _NEVER or (base != key and base in evidence):
            continue
        if key == "lon_deg" and "lat_deg" in evidence:
            continue
        if (
            key == "lat_deg"
            and isinstance(value, float)
            and isinstance(lon_deg := evidence.get("lon_deg"), float)
        ):
            yield Row("Position", position_text(value, lon_deg))
        elif isinstance(value, bool):
            yield Row(_name(key), "yes" if value else "no")
        elif isinstance(value, int | float):
            yield Row(_name(key), _number(key, float(value), _sd(evidence, key)))
        elif isinstance(value, str):
            yield Row(_name(key), _moment(value) if key.endswith("_utc") else value)
        elif isinstance(value, list | tuple):
            yield from _listed(key, value)


def _listed(key: str, values: list[object] | tuple[object, ...]) -> Iterator[Row]:
    for number, one in enumerate(values, 1):
        if isinstance(one, Mapping) and "name" in one and isinstance(one.get("value"), float):
            yield Row(f"By the {one['name']}", _number("", one["value"], _sd(one, "value")))
        elif isinstance(one, Mapping):
            told = [f"{_name(name)} {row.text}" for name in one for row in _rows({name: one[name]})]
            yield Row(f"{_name(key)} {number}", ", ".join(told))
        else:
            yield Row(f"{_name(key)} {number}", str(one))


def _sd(evidence: Mapping[str, object], key: str) -> float | None:
    sd = evidence.get("sd" if key == "value" else f"{key}_sd")
    return float(sd) if isinstance(sd, int | float) else None


def _name(key: str) -> str:
    if key in CHANNELS:
        return CHANNELS[key].label
    words = [word for word in key.split("_") if word != "utc"]
    if len(words) > 1 and words[-1] in _UNITS:
        words = words[:-1]
    text = " ".join(word.upper() if word in _ACRONYMS else word for word in words)
    return f"{text[:1].upper()}{text[1:]}"


def _number(key: str, value: float, sd: float | None) -> str:
    unit = _UNITS.get(key.split("_")[-1], "") if "_" in key else ""
    if key in _SHARES:
        value, sd, unit = 100 * value, None if sd is None else 100 * sd, "%"
    joint = "" if unit in ("", "°") else " "
    spread = "" if sd is None else f" ± {SIGMAS_95 * sd:.2g}{joint}{unit}"
    text = f"{value:,.0f}" if float(value).is_integer() else f"{value:.4g}"
    return f"{text}{joint}{unit}{spread}"


def _moment(text: str) -> str:
    found = re.match(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)", text)
    return f"{found[1]} {found[2]} UTC" if found else text
