"""How far others were heard, by bearing, against the radio horizon; sectors in which they were heard less."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.passage import Floats, Ints

from .approach import relative_bearing_deg
from .own import OwnShip

HORIZON_NM = 2.23  # per square root of a metre, earth radius 4/3 (US Federal Standard 1037C)
SHIP_AERIAL_M, BOAT_AERIAL_M = 20.0, 5.0  # assumed of class A and of class B: judgment
BEYOND = 1.5  # times the horizon: ducting, a wrong height or a wrong position (judgment)
SECTOR_DEG = 30
_BANDS_NM = (2.0, 5.0, 10.0, 20.0)
_PIECE_S = 60.0
_SLOW_KN = 3.0  # below it ITU-R M.1371 lets those at anchor and moored report more rarely
_LEAST_VISITS = 5
_SHADOW, _SIGMAS = (
    0.75,
    3.0,
)  # heard clearly less than three times in four; three one-sigmas, for twelve sectors


@dataclass(frozen=True)
class Reception:
    """``sectors``: a row per 30 deg and reference ("true" north or the own "bow"), named by its middle.

    ``middle_deg, of, stations, farthest_nm, reach_nm`` (what nine stations of ten heard there stay within),
    ``visits, heard_share`` (messages heard of those due, against other sectors at the same range) and its
    ``heard_sd``, ``shadow``. ``horizon_nm`` maps what a class A and a class B aerial of the assumed height
    reaches, empty without an own height. ``beyond`` counts stations heard past 1.5 times the class A horizon.
    """

    stations: int
    median_nm: float | None
    farthest_nm: float | None
    sectors: pd.DataFrame
    horizon_nm: dict[str, float]
    beyond: int


def radio_horizon_nm(own_m: float, other_m: float) -> float:
    """Distance at which two aerials of given heights see each other past the Earth (FS-1037C)."""
    return HORIZON_NM * (float(np.sqrt(own_m)) + float(np.sqrt(other_m)))


def reception(visits: pd.DataFrame, own: OwnShip, aerial_height_m: float | None) -> Reception:
    """Work out the reception of direct position reports: none repeated, made up or from the air."""
    horizon = (
        {}
        if aerial_height_m is None
        else {
            "A": radio_horizon_nm(aerial_height_m, SHIP_AERIAL_M),
            "B": radio_horizon_nm(aerial_height_m, BOAT_AERIAL_M),
        }
    )
    direct = (
        ~visits["repeated"].astype(bool)
        & ~visits["virtual"].astype(bool)
        & (visits["kind"] != "aircraft")
        & (visits["number"] != 27)
    ).to_numpy(bool)
    place = np.full(len(visits), np.nan + 0j)
    if direct.any():
        place[direct] = own.offset_nm(
            *(visits.loc[direct, name].to_numpy(float) for name in ("time_s", "lat_deg", "lon_deg"))
        )
    direct = direct & np.isfinite(place)
    if not direct.any():
        return Reception(0, None, None, pd.DataFrame(columns=_COLUMNS), horizon, 0)
    away, mmsi = np.abs(place[direct]), visits.loc[direct, "mmsi"].to_numpy(np.int64)
    farthest = pd.Series(away).groupby(mmsi).max().to_numpy()
    time = visits.loc[direct, "time_s"].to_numpy(float)
    _, heading = own.moving_at(time)
    true_deg = np.degrees(np.angle(place[direct]))
    tables = [_sectors("true", true_deg, away, mmsi)]
    with_bow = own.heading_of == "heading" and np.isfinite(heading).any()
    if with_bow:
        tables.append(_sectors("bow", relative_bearing_deg(true_deg, heading), away, mmsi))
    visit = visits.loc[direct, "visit"].to_numpy(np.int64)
    pieces = _pieces(time, place[direct], visit, visits.loc[direct, "sog_kn"].to_numpy(float))
    if pieces is not None:
        piece_time, middle, due, heard, visit = pieces
        bearing = np.degrees(np.angle(middle))
        tables[0] = tables[0].merge(_shares("true", bearing, np.abs(middle), due, heard, visit), how="left")
        if with_bow:
            _, then = own.moving_at(piece_time)
            bow = relative_bearing_deg(bearing, then)
            tables[1] = tables[1].merge(_shares("bow", bow, np.abs(middle), due, heard, visit), how="left")
    table = pd.concat(tables).reindex(columns=_COLUMNS).reset_index(drop=True)
    table["shadow"] = table["shadow"].eq(True)
    return Reception(
        len(farthest),
        float(np.median(farthest)),
        float(farthest.max()),
        table,
        horizon,
        int((farthest > BEYOND * horizon["A"]).sum()) if horizon else 0,
    )


_COLUMNS = [
    *(
        "of",
        "middle_deg",
        "stations",
        "farthest_nm",
        "reach_nm",
        "visits",
        "heard_share",
        "heard_sd",
        "shadow",
    ),
]


def _sector(bearing_deg: Floats) -> Ints:
    """Middle of the sector a bearing lies in, -1 where it is not known."""
    known = np.isfinite(bearing_deg)
    middle = np.round(np.where(known, bearing_deg, 0.0) % 360.0 / SECTOR_DEG).astype(np.int64)
    return np.where(known, middle % (360 // SECTOR_DEG) * SECTOR_DEG, -1)


def _sectors(of: str, bearing_deg: Floats, away_nm: Floats, mmsi: Ints) -> pd.DataFrame:
    seen = pd.DataFrame({"middle_deg": _sector(bearing_deg), "mmsi": mmsi, "away": away_nm})
    farthest = seen[seen["middle_deg"] >= 0].groupby(["middle_deg", "mmsi"])["away"].max()
    grouped = farthest.groupby("middle_deg")
    table = pd.DataFrame(
        {"stations": grouped.size(), "farthest_nm": grouped.max(), "reach_nm": grouped.quantile(0.9)}
    )
    return table.reindex(range(0, 360, SECTOR_DEG)).rename_axis("middle_deg").reset_index().assign(of=of)


def _pieces(
    time: Floats, place: np.ndarray, number: Ints, speed_kn: Floats
) -> tuple[Floats, np.ndarray, Floats, Floats, Ints] | None:
    """Cut the time between reports of a visit into pieces of a minute: when, where, messages due and heard."""
    step = np.diff(time)
    same = (np.diff(number) == 0) & (step > 0.5)
    if not same.any():
        return None
    pace = 2 * number + (speed_kn > _SLOW_KN)  # stations report more rarely at rest
    usual = pd.Series(step[same]).groupby(pace[:-1][same]).quantile(0.05)
    rows = np.flatnonzero(same)
    count = np.maximum(np.ceil(step[rows] / _PIECE_S).astype(int), 1)
    which = np.repeat(rows, count)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / np.repeat(
        count, count
    )
    interval = np.maximum(usual.reindex(pace[which]).to_numpy(float), 2.0)
    due = step[which] / np.repeat(count, count) / interval
    heard = np.where(share > 1 - 1.0 / np.repeat(count, count), 1.0, 0.0)
    middle = place[which] + share * (place[which + 1] - place[which])
    return time[which] + share * step[which], middle, due, heard, number[which]


def _shares(
    of: str, bearing_deg: Floats, away_nm: Floats, due: Floats, heard: Floats, visit: Ints
) -> pd.DataFrame:
    """Messages heard in each sector against those heard of others at the same range, with its spread by visit."""
    at = _sector(bearing_deg)
    known = at >= 0
    sector, band = at[known] // SECTOR_DEG, np.searchsorted(_BANDS_NM, away_nm[known])
    shape = (360 // SECTOR_DEG, len(_BANDS_NM) + 1)
    place = sector * shape[1] + band
    counted = [
        np.bincount(place, weights[known], shape[0] * shape[1]).reshape(shape) for weights in (due, heard)
    ]
    due_elsewhere, heard_elsewhere = (np.maximum(one.sum(axis=0) - one, 0.0) for one in counted)
    rate = np.where(due_elsewhere > 1.0, heard_elsewhere / np.maximum(due_elsewhere, 1.0), np.nan)
    hoped = due[known] * rate[sector, band]
    rows = []
    for one in np.unique(sector).tolist():
        told = (sector == one) & np.isfinite(hoped)
        _, which = np.unique(visit[known][told], return_inverse=True)
        each_hoped, each_heard = np.bincount(which, hoped[told]), np.bincount(which, heard[known][told])
        total = float(each_hoped.sum())
        if total <= 0:
            continue
        share = float(each_heard.sum()) / total
        scatter = float(np.sqrt(((each_heard - share * each_hoped) ** 2).sum())) / total
        sd = max(scatter, float(np.sqrt(each_heard.sum() + 1.0)) / total)
        shadow = len(each_hoped) >= _LEAST_VISITS and share + _SIGMAS * sd < _SHADOW
        rows.append((of, one * SECTOR_DEG, len(each_hoped), share, sd, shadow))
    return pd.DataFrame(rows, columns=["of", "middle_deg", "visits", "heard_share", "heard_sd", "shadow"])
