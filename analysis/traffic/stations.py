"""Who was heard: one row per station, with what it says of itself and whether that changed."""

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from pandas.core.groupby.generic import DataFrameGroupBy

_TYPES = {
    30: "fishing",
    31: "towing",
    32: "towing",
    33: "dredging",
    34: "diving",
    35: "military",
    36: "sailing",
    37: "pleasure craft",
    50: "pilot vessel",
    51: "search and rescue",
    52: "tug",
    53: "port tender",
    55: "law enforcement",
    58: "medical transport",
}
_TENS = {2: "wing in ground", 4: "high speed craft", 6: "passenger", 7: "cargo", 8: "tanker", 9: "other"}
_KINDS = {
    "A": "class A",
    "B": "class B",
    "aid": "aid to navigation",
    "base": "shore station",
    "aircraft": "aircraft",
}
_SIZES = ["bow_m", "stern_m", "port_m", "starboard_m"]
_WORDS = ["name", "names", "call_sign", "kind", "changed"]
_COLUMNS = [
    *("mmsi", "name", "names", "call_sign", "kind", "type", "length_m", "beam_m", "messages", "reports"),
    *("first_s", "last_s", "nearest_nm", "farthest_nm", "changed"),
]


def type_text(code: int) -> str:
    """Name a type of ship (ITU-R M.1371-5, table 53)."""
    return _TYPES.get(code) or _TENS.get(code // 10, "")


def kind_text(kind: str) -> str:
    """Name a kind of station."""
    return _KINDS.get(kind, "")


def stations_of(
    counted: pd.DataFrame, statics: pd.DataFrame, visits: pd.DataFrame, encounters: pd.DataFrame
) -> pd.DataFrame:
    """List every other station heard, none left out, the nearest first; ``changed`` names what did not stay."""
    others = counted[~counted["own"].astype(bool)].set_index("mmsi")[["messages"]]
    seen = visits.groupby("mmsi").agg(
        reports=("time_s", "size"),
        first_s=("time_s", "first"),
        last_s=("time_s", "last"),
        kind=("kind", "last"),
    )
    reach = encounters.groupby("mmsi").agg(nearest_nm=("range_nm", "min"), farthest_nm=("heard_nm", "max"))
    said = _identities(statics[~statics["own"].astype(bool)])
    table = others.join(seen).join(reach).join(said).rename_axis("mmsi").reset_index()
    table = table.astype(dict.fromkeys(_WORDS, object))
    table = table.fillna({**dict.fromkeys(_WORDS, ""), "reports": 0, "code": 0})
    table = table.astype({**dict.fromkeys(_WORDS, str), "reports": np.int64})
    codes = table["code"].where(table["kind"] != "aid", 0)
    table["type"] = [type_text(int(code)) for code in codes]
    table = table.sort_values("nearest_nm", kind="stable", na_position="last")
    return table[_COLUMNS].reset_index(drop=True)


def _identities(said: pd.DataFrame) -> pd.DataFrame:
    """What each station says of itself, its last word on each; a row per station."""
    names = _each(said[said["name"] != ""], ["name"])
    signs = _each(said[said["call_sign"] != ""], ["call_sign"])
    sizes = _each(said[(said[_SIZES] > 0).any(axis=1)], _SIZES)
    sized = sizes[_SIZES].last().astype(float)
    table = pd.DataFrame(
        {
            "name": names["name"].last(),
            "names": names["name"].agg("; ".join),
            "call_sign": signs["call_sign"].last(),
            "code": said[said["type"] > 0].groupby("mmsi")["type"].last(),
            "length_m": sized["bow_m"] + sized["stern_m"],
            "beam_m": sized["port_m"] + sized["starboard_m"],
        }
    )
    several = pd.DataFrame(
        {"name": names.size() > 1, "call sign": signs.size() > 1, "size": sizes.size() > 1}
    ).reindex(table.index)
    table["changed"] = [
        ", ".join(str(what) for what, more in row.items() if more is True)
        for row in several.to_dict("records")
    ]
    return table


def _each(said: pd.DataFrame, what: list[str]) -> "DataFrameGroupBy[Any, Any]":
    """What stations said, each once, in the order in which they said it first."""
    return said.drop_duplicates(["mmsi", *what]).groupby("mmsi")
