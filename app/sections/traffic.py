"""Traffic in the check: the closest encounters, the own transponder, how far was heard, radar and its watch."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import pandas as pd

from analysis import Review
from analysis.estimate import SIGMAS_95
from analysis.traffic import Encounter, Reception, Traffic, Transmission, WatchCheck, kind_text
from app import cautions

from .values import iso, known

TITLE = "Traffic"
LISTED = 5
JSON_LISTED = 50


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange traffic: every station, the closest encounters, the own transponder, reception, radar."""
    told = review.case.traffic
    if not (told.heard or len(told.radar) or told.watch):
        return {"why": "no AIS and no radar targets in the recording"}
    return {
        "caution": cautions.TRAFFIC,
        "cpa_limit_nm": told.asked.alarms.cpa_nm,
        "tcpa_limit_min": told.asked.alarms.tcpa_min,
        "messages": told.messages,
        "unreadable": told.unreadable,
        "stations": _records(told.stations.drop(columns="names"), "first_s", "last_s"),
        "encounters": _records(
            told.met.head(JSON_LISTED).drop(columns="visit"),
            *("start_s", "end_s", "time_s", "alarm_s", "foreseen_s"),
        ),
        "own_transmission": _transmission(told.transmission),
        "reception": _reception(told.reception),
        "radar_targets": _records(told.radar, "start_s", "end_s", "time_s"),
        "radar_watch": None if told.watch is None else asdict(told.watch),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say who came close, whether one's own AIS worked, how far it heard, and what a radar watch would miss."""
    told = review.case.traffic
    if not told.heard:
        rows = [("", "no AIS in the recording")] if len(told.radar) or told.watch else []
    else:
        rows = [("heard", f"{stations_text(len(told.stations))} in {told.messages:,} messages")]
        names = told.name_of
        met = told.closest(LISTED)
        rows += [(_clock(one.time_s), encounter_text(one, names.get(one.mmsi, ""))) for one in met]
        rows += [] if met else [("encounters", nobody_met_text(told))]
        rows.append(("own AIS", transmission_text(told.transmission)))
        rows += [("reception", text) for text in [reception_text(told.reception)] if text]
    if len(told.radar):
        rows.append(("radar", radar_text(told.radar)))
    if told.watch is not None:
        rows.append(("radar watch", watch_text(told.watch)))
    if rows:
        rows.append(("caution", cautions.TRAFFIC))
    return rows


def stations_text(count: int) -> str:
    """Write how many stations there are."""
    return f"{count:,} station{'' if count == 1 else 's'}"


def encounter_text(one: Encounter, name: str, unit: str = "nm", factor: float = 1.0) -> str:
    """Say an encounter in one line; ``factor`` turns nm into ``unit``."""
    who = " ".join(word for word in (name or str(one.mmsi), kind_text(one.kind)) if word)
    parts = [f"{who} at {range_text(one, factor)} {unit}", side_text(one.relative_deg)]
    parts.append(crossing_text(one, unit, factor))
    if one.cut:
        parts.append(CUT[one.cut])
    return ", ".join(part for part in parts if part)


def range_text(one: Encounter, factor: float) -> str:
    """Write how near an encounter came, with its ± where that is known; ``factor`` turns nm into the unit."""
    near = f"{one.range_nm * factor:.2f}"
    if not math.isfinite(one.range_sd_nm):
        return near
    return f"{near} ± {max(SIGMAS_95 * one.range_sd_nm * factor, 0.01):.2f}"


CUT = {
    "first heard": "already there when first heard",
    "last heard": "still nearing when last heard",
    "own track": "own position missing",
}


def nobody_met_text(told: Traffic) -> str:
    """Say why there is no encounter to tell of."""
    if not len(told.own.time_s):
        return "who came close is not known: the recording has no own position"
    if told.ais.visits.empty:
        return "who came close is not known: no vessel told its position"
    return "nobody was met under way"


def side_text(relative_deg: float) -> str:
    """Say where off the bow something lay."""
    if not math.isfinite(relative_deg):
        return ""
    side = "" if abs(round(relative_deg)) in (0, 180) else " to starboard" if relative_deg > 0 else " to port"
    return f"{abs(relative_deg):.0f}°{side} off the bow"


def crossing_text(one: Encounter, unit: str = "nm", factor: float = 1.0) -> str:
    """Say who overtook whom, or where a target crossed the own course."""
    if one.overtaking:
        return "overtaken by you" if one.overtaking == "own" else "overtook you"
    if not math.isfinite(one.crosses_nm) or abs(one.crosses_nm) > 3 * max(one.range_nm, 0.2):
        return ""
    return f"crossed {abs(one.crosses_nm) * factor:.2f} {unit} {'ahead' if one.crosses_nm > 0 else 'astern'}"


def transmission_text(told: Transmission) -> str:
    """Say whether the own transponder worked."""
    if not told.mmsis:
        return "not known: no VDO in the recording (a receiver only, or its own messages were not recorded)"
    parts = [f"class {told.transponder}" if told.transponder else "seen"]
    if told.ratio is not None and told.interval_s and told.nominal_s:
        parts.append(f"a report every {told.interval_s:.0f} s, {told.nominal_s:.0f} s due")
    elif told.why:
        parts.append(told.why[0].lower() + told.why[1:].rstrip("."))
    if told.offset_m is not None and told.offset_m.value is not None:
        parts.append(f"its position {told.offset_m.value:.0f} m from the GNSS in use")
    return ", ".join(parts)


def reception_text(told: Reception, unit: str = "nm", factor: float = 1.0) -> str:
    """Say how far was heard, against the radio horizon where the height of the aerial was given."""
    if told.median_nm is None or told.farthest_nm is None:
        return ""
    text = (
        f"{stations_text(told.stations)} with a position, heard to {told.median_nm * factor:.1f} {unit} in the "
        f"median, the farthest to {told.farthest_nm * factor:.1f} {unit}"
    )
    if told.horizon_nm:
        text += f"; radio horizon to a ship {told.horizon_nm['A'] * factor:.1f} {unit}"
        text += f", to a small craft {told.horizon_nm['B'] * factor:.1f} {unit}"
    return text


def radar_text(radar: pd.DataFrame, unit: str = "nm", factor: float = 1.0) -> str:
    """Say how many radar targets there were, and how many no AIS stood beside."""
    alone = int((radar["mmsi"] == 0).sum())
    nearest = radar["nearest_nm"].min()
    near = f", the nearest at {nearest * factor:.2f} {unit}" if math.isfinite(nearest) else ""
    unturned = int(radar["unturned"].sum())
    lost = f"; {unturned:,} bearings off the bow not turned, the heading then not known" if unturned else ""
    return f"{len(radar)} targets{near}; no AIS beside {alone} of them{lost}"


def watch_text(told: WatchCheck, unit: str = "nm", factor: float = 1.0) -> str:
    """Say what a radar watch could miss, with the arithmetic."""
    watch = told.watch
    room = f"({watch.range_nm * factor:g} − {watch.guard_nm * factor:g}) {unit}"
    sum_text = (
        f"{watch.sleep_min:g} + {watch.scan_min:g} = {told.blind_min:g} min unseen at most; {room} in that time is "
        f"{told.limit_kn:.1f} kn"
    )
    if told.fastest_kn is None or told.seen_at_nm is None:
        return f"{sum_text}: nothing that closes faster is seen in time; no closing speed was met on this passage"
    met = f"{told.unseen} of {told.met} met here closed faster, the fastest at {told.fastest_kn:.1f} kn"
    if told.unseen == 0:
        return f"{sum_text}: none of {told.met} met here closed faster (fastest {told.fastest_kn:.1f} kn)"
    cure = (
        "no sleep would do"
        if told.longest_sleep_min is None
        else f"{told.longest_sleep_min:.0f} min asleep would just do"
    )
    where = (
        "might not be seen before it arrives"
        if told.seen_at_nm <= 0
        else f"might first be seen at {told.seen_at_nm * factor:.1f} {unit}"
    )
    return f"{sum_text}: {met} and {where}; {cure}"


def _clock(time_s: float) -> str:
    return f"{datetime.fromtimestamp(time_s, UTC):%d %b %H:%M}"


def _records(table: pd.DataFrame, *moments: str) -> list[dict[str, Any]]:
    """Rows of a table as plain values, its moments as ISO times under ``_utc``."""
    records = []
    for row in table.to_dict("records"):
        plain = {
            str(name): None if value == "" else known(value)
            for name, value in row.items()
            if name not in moments
        }
        records.append(plain | {f"{name[:-2]}_utc": _iso(row[name]) for name in moments})
    return records


def _iso(time_s: float | None) -> str | None:
    return None if time_s is None or not math.isfinite(time_s) else iso(time_s, "seconds")


def _transmission(told: Transmission) -> dict[str, Any]:
    plain = {
        name: value
        for name, value in vars(told).items()
        if name not in ("silences", "offset_m", "delay_s", "why", "transponder")
    }
    return plain | {
        "known": bool(told.mmsis),
        "class": told.transponder or None,
        "why": told.why or None,
        "silences": [{"start_utc": _iso(start), "end_utc": _iso(end)} for start, end in told.silences],
        "position_offset_m": told.offset_m and {"value": told.offset_m.value, "sd": told.offset_m.sd},
        "position_delay_s": told.delay_s
        and {"value": told.delay_s.value, "sd": told.delay_s.sd, "determined": told.delay_s.determined},
    }


def _reception(told: Reception) -> dict[str, Any]:
    return {
        "stations": told.stations,
        "median_nm": told.median_nm,
        "farthest_nm": told.farthest_nm,
        "radio_horizon_nm": dict(told.horizon_nm) or None,
        "beyond_horizon": told.beyond if told.horizon_nm else None,
        "sectors": _records(told.sectors),
    }
