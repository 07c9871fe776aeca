"""Who was heard: one row per station, with what it says of itself and whether that changed."""

from typing import Any

import numpy as np
import pandas as pd

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
    others = counted[~counted["own"].astype(bool)]
    said = dict(iter(statics[~statics["own"].astype(bool)].groupby("mmsi")))
    last = visits.groupby("mmsi").agg(
        reports=("time_s", "size"),
        first_s=("time_s", "first"),
        last_s=("time_s", "last"),
        kind=("kind", "last"),
    )
    placed: dict[Any, dict[Any, Any]] = last.to_dict("index")
    nobody: dict[Any, Any] = {"reports": 0, "first_s": np.nan, "last_s": np.nan, "kind": ""}
    nearest = encounters.groupby("mmsi")["range_nm"].min().to_dict()
    farthest = encounters.groupby("mmsi")["heard_nm"].max().to_dict()
    rows = []
    for mmsi, messages in zip(others["mmsi"].tolist(), others["messages"].tolist(), strict=True):
        told = _identity(said.get(mmsi))
        code = told.pop("code")
        seen = placed.get(mmsi, nobody)
        rows.append(
            told
            | {
                "mmsi": mmsi,
                "messages": messages,
                **seen,
                "type": type_text(int(str(code))) if seen["kind"] != "aid" else "",
                "nearest_nm": nearest.get(mmsi, np.nan),
                "farthest_nm": farthest.get(mmsi, np.nan),
            }
        )
    table = pd.DataFrame(rows, columns=_COLUMNS)
    return table.sort_values("nearest_nm", kind="stable", na_position="last").reset_index(drop=True)


def _identity(said: pd.DataFrame | None) -> dict[str, object]:
    told: dict[str, object] = dict.fromkeys(("name", "names", "call_sign", "changed"), "")
    told |= {"code": 0, "length_m": np.nan, "beam_m": np.nan}
    if said is None:
        return told
    names = [name for name in dict.fromkeys(said["name"]) if name]
    signs = [sign for sign in dict.fromkeys(said["call_sign"]) if sign]
    sized = said[(said[_SIZES] > 0).any(axis=1)][_SIZES].drop_duplicates()
    changed = [
        what for what, values in (("name", names), ("call sign", signs), ("size", sized)) if len(values) > 1
    ]
    codes = said.loc[said["type"] > 0, "type"]
    told |= {"changed": ", ".join(changed), "names": "; ".join(names)}
    told |= {"name": names[-1] if names else "", "call_sign": signs[-1] if signs else ""}
    told |= {"code": int(codes.iloc[-1]) if len(codes) else 0}
    if len(sized):
        last = sized.iloc[-1]
        told |= {"length_m": float(last["bow_m"] + last["stern_m"])}
        told |= {"beam_m": float(last["port_m"] + last["starboard_m"])}
    return told
