"""Person-overboard sentences and DSC calls with their expansions, as marks.

Layouts: IEC 61162-1 (MOB, DSC, DSE), from memory; symbols of a call: ITU-R M.493, of which the sentences carry the
last two digits, as in the datagrams described at continuouswave.com (whaler/reference/DSC_Datagrams.html). A ship
cancels her alert by acknowledging it herself to all ships (ITU-R M.493, from memory). The page named shows as a
cancellation an alert that names its sender as the ship in distress too: that one stays an alert, as it may be one.
"""

import re
from collections.abc import Sequence
from itertools import groupby

import numpy as np
import pandas as pd

from analysis.emergencies.marks import DAY_S, GNSS_SD_NM, Fix, Mark, joined_fixes

SAME_CALL_S = (
    3600.0  # a distress call is sent again every four minutes until it is answered (ITU-R M.541, from memory)
)
EXPANSION_S = 300.0
CLOCKS_S = 300.0  # judgement: how far the radio's clock may be before that of the log
MINUTE_SD_NM = 1 / np.sqrt(3)  # of a position cut to whole minutes: uniform over the minute that follows
FORMATS = {
    "02": "geographic area",
    "12": "distress alert",
    "14": "group",
    "16": "all ships",
    "20": "individual",
    "23": "individual, automatic",
}
CATEGORIES = {"00": "routine", "08": "safety", "10": "urgency", "12": "distress"}
NATURES = {
    "00": "fire or explosion",
    "01": "flooding",
    "02": "collision",
    "03": "grounding",
    "04": "listing, in danger of capsizing",
    "05": "sinking",
    "06": "disabled and adrift",
    "07": "undesignated distress",
    "08": "abandoning ship",
    "09": "piracy or armed attack",
    "10": "person overboard",
    "12": "EPIRB emission",
}
_DISTRESS, _ALL_SHIPS = "12", "16"
_PERSON, _TEST, _ACKNOWLEDGED, _RELAYED = "10", "18", "10", "12"
_TIME_OF_DAY = re.compile(r"([01]\d|2[0-3])[0-5]\d([0-5]\d(\.\d*)?)?")
_MOB_STATES = {"A": "activated", "M": "set by button", "T": "test", "E": "in error"}
_MOB_UNUSED = "V"


def marks_of_calls(events: pd.DataFrame) -> list[Mark]:
    """Turn a passage's events into marks, repeated sentences joined, positions refined by their expansions."""
    if events.empty:
        return []
    rows = [
        (float(time.timestamp()), kind, _fields(text), lat, lon)
        for time, kind, text, lat, lon in events[
            ["time_utc", "kind", "text", "lat_deg", "lon_deg"]
        ].itertuples(index=False, name=None)
        if not pd.isna(time)
    ]
    expansions = [(time, fields) for time, kind, fields, _, _ in rows if kind == "DSC expansion"]
    single: list[Mark] = []
    for time, kind, fields, lat, lon in rows:
        if kind == "DSC call":
            single.append(_call(time, fields, lat, lon, expansions))
        elif kind == "person overboard" and fields[2] != _MOB_UNUSED:
            single.append(_overboard(time, fields, lat, lon))
    return joined(single)


def unplaced_calls(events: pd.DataFrame) -> int:
    """Count the person-overboard sentences and calls that have no time, so that no mark can be made of them."""
    if events.empty:
        return 0
    untimed = events[events["time_utc"].isna()]
    return sum(
        kind == "DSC call" or (kind == "person overboard" and _fields(text)[2] != _MOB_UNUSED)
        for kind, text in zip(untimed["kind"], untimed["text"], strict=True)
    )


def joined(marks: Sequence[Mark]) -> list[Mark]:
    """Join marks that differ only in their time, where none is more than an hour after the one before."""

    def alike(mark: Mark) -> tuple[str, ...]:
        return mark.kind, mark.who, mark.what, mark.category or "", mark.nature or "", str(mark.alert)

    whole: list[Mark] = []
    for _, group in groupby(sorted(marks, key=lambda one: (alike(one), one.start_s)), key=alike):
        several = list(group)
        breaks = [k for k in range(1, len(several)) if _apart(several[k - 1], several[k])]
        for first, last in zip([0, *breaks], [*breaks, len(several)], strict=True):
            part = several[first:last]
            fixes = joined_fixes([fix for one in part for fix in one.fixes])
            whole.append(
                Mark(
                    **{
                        **vars(part[0]),
                        "end_s": part[-1].end_s,
                        "count": sum(one.count for one in part),
                        "fixes": fixes,
                    }
                )
            )
    return sorted(whole, key=lambda one: one.start_s)


def _apart(before: Mark, after: Mark) -> bool:
    return after.start_s - before.end_s > SAME_CALL_S


def _fields(text: str) -> list[str]:
    fields = [field.strip() for field in text.split("*")[0].split(",")]
    return fields + [""] * (15 - len(fields))


def _overboard(time_s: float, fields: Sequence[str], lat: float, lon: float) -> Mark:
    state = _MOB_STATES.get(fields[2], "")
    who = fields[13] or fields[1]
    placed = np.isfinite(lat) and np.isfinite(lon)
    return Mark(
        kind="MOB sentence",
        who=who,
        what="person overboard" + (f", {state}" if state else ""),
        alert=fields[2] not in ("T", "E"),
        test=fields[2] == "T",
        adrift="person",
        start_s=time_s,
        end_s=time_s,
        count=1,
        fixes=(_fix(time_s, fields[6], float(lat), float(lon), GNSS_SD_NM),) if placed else (),
        position_utc=_hour_minute(fields[6]),
    )


def _call(
    time_s: float,
    fields: Sequence[str],
    lat: float,
    lon: float,
    expansions: Sequence[tuple[float, Sequence[str]]],
) -> Mark:
    form, sender, category, first = fields[1][-2:], _identity(fields[2]), fields[3][-2:], fields[4][-2:]
    casualty = _identity(fields[8])
    alert = form == _DISTRESS or category == _DISTRESS
    if form == _DISTRESS:
        who, code, words = sender, first, "distress"
        if casualty and casualty == sender:
            words = "distress, or cancelled by the sender"
    elif category == _DISTRESS:
        who, code = casualty or sender, fields[9][-2:]
        words = {_ACKNOWLEDGED: "distress acknowledged", _RELAYED: "distress relayed"}.get(first, "distress")
        if form == _ALL_SHIPS and first == _ACKNOWLEDGED and casualty and casualty == sender:
            words, alert = "distress cancelled by the sender", False
    else:
        who, code = sender, ""
        words = f"{CATEGORIES.get(category, 'unknown')} call, {FORMATS.get(form, f'format {form}')}"
    test = not alert and first == _TEST
    nature = NATURES.get(code) if code else None
    place = _refined(time_s, fields[7], sender, lat, lon, expansions)
    return Mark(
        kind="DSC call",
        who=who,
        what="test call" if test else f"{words}: {nature}" if nature else words,
        alert=alert,
        test=test,
        adrift="person" if code == _PERSON else "craft",
        start_s=time_s,
        end_s=time_s,
        count=1,
        fixes=() if place is None else (place,),
        category="distress" if form == _DISTRESS else CATEGORIES.get(category),
        nature=nature,
        position_utc=_hour_minute(fields[7]),
    )


def _hour_minute(clock: str) -> str | None:
    """Write a time of day, hhmm or hhmmss, as hh:mm; None where it is none, as the 8888 of a call."""
    return f"{clock[:2]}:{clock[2:4]}" if _TIME_OF_DAY.fullmatch(clock) else None


def _fix(time_s: float, clock: str, lat_deg: float, lon_deg: float, sd_nm: float) -> Fix:
    """Date a position by the last time of day ``clock`` (hhmm or hhmmss) before its sentence came, else by that."""
    if not _TIME_OF_DAY.fullmatch(clock):
        return Fix(time_s, lat_deg, lon_deg, sd_nm, timed=False)
    age_s = (time_s - 3600 * int(clock[:2]) - 60 * int(clock[2:4]) - float(clock[4:] or 0)) % DAY_S
    return Fix(time_s if age_s > DAY_S - CLOCKS_S else time_s - age_s, lat_deg, lon_deg, sd_nm)


def _identity(digits: str) -> str:
    """MMSI of a ten-digit address, whose last digit is a filler."""
    return digits[:9] if len(digits) == 10 and digits.isdigit() else ""


def _refined(
    time_s: float,
    clock: str,
    sender: str,
    lat: float,
    lon: float,
    expansions: Sequence[tuple[float, Sequence[str]]],
) -> Fix | None:
    """Position of a call, with the four decimals of the minutes that an expansion of code 00 adds to each side."""
    if not (np.isfinite(lat) and np.isfinite(lon)):
        return None
    for at_s, fields in expansions:
        digits = fields[6]
        of_it = 0 <= at_s - time_s <= EXPANSION_S and sender and _identity(fields[4]) == sender
        if of_it and fields[5] == "00" and len(digits) == 8 and digits.isdigit():
            north, east = int(digits[:4]) / 6e5, int(digits[4:]) / 6e5
            finer = lat + float(np.copysign(north, lat)), lon + float(np.copysign(east, lon))
            return _fix(time_s, clock, *finer, GNSS_SD_NM)
    return _fix(time_s, clock, float(lat), float(lon), float(MINUTE_SD_NM))
