"""The own AIS: whether it sent, often enough, under one name, from the right place; sectors it hears less in."""

from collections.abc import Iterator

import pandas as pd

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.telling import clock, iso, listed, times
from analysis.traffic.transmission import TOO_RARE, Transmission

SUBJECT = "AIS"
APART_M = 60.0  # both fixes at their 13 m (95 %) of MSC.112(73), and an aerial a boat's length away: judgment
FAR_M = 185.2  # a cable: judgment
SILENT_MIN = 6.0  # two of the longest nominal intervals of ITU-R M.1371: judgment
_VESSELS = range(200_000_000, 800_000_000)  # identities of ships begin 2 to 7 (ITU-R M.585)
MOST_LISTED = 20
_LOOKOUT = "Others may not see you by AIS, nor you all of them: keep a lookout."


def _own(case: Case) -> Transmission | None:
    told = case.traffic.transmission
    return told if told.mmsis else None


def identity(case: Case) -> Iterator[Finding]:
    """An own identity that changes, or is none of a ship."""
    told = _own(case)
    if told is None:
        return
    wrong = [one for one in told.mmsis if one not in _VESSELS]
    if not wrong and len(told.mmsis) == 1:
        return
    title = (
        f"The own AIS goes by {len(told.mmsis)} identities on this passage."
        if len(told.mmsis) > 1
        else f"The own AIS sends the identity {told.mmsis[0]}, which is none of a ship."
    )
    yield _finding(
        "ais-identity",
        "fault",
        title,
        float(len(told.mmsis)),
        "1",
        {"identities": list(told.mmsis), "names": list(told.names)},
        "Have the transponder programmed with the identity of the ship's licence.",
        "Read the own identity on another vessel's display, or in the VDO of the next recording.",
    )


def position(case: Case) -> Iterator[Finding]:
    """Own reports without a position, or with one that is not where the boat is."""
    told = _own(case)
    if told is None:
        return
    if told.reports and told.without_position > told.reports / 2:
        yield _finding(
            "ais-no-position",
            "fault",
            f"The own AIS sends no position in {told.without_position:,} of {told.reports:,} reports.",
            told.without_position / told.reports,
            "1",
            {"reports": told.reports, "without_position": told.without_position},
            "Look at the GNSS aerial of the transponder, its cable and plug.",
            "Own position on the transponder's display within a minute of switching on.",
        )
    offset = told.offset_m
    if offset is not None and offset.value is not None and offset.value > APART_M:
        yield _finding(
            "ais-position",
            "fault" if offset.value > FAR_M else "advice",
            f"The own AIS position lies {offset.value:,.0f} m from the GNSS in use.",
            offset.value,
            "m",
            {"offset_m": offset.value, "delay_s": told.delay_s and told.delay_s.value},
            "Find out which receiver is wrong; enter the aerial's place in the transponder.",
            "At a berth both positions within some 20 m.",
            offset.sd,
        )


def sending(case: Case) -> Iterator[Finding]:
    """Own reports too far apart, or silent for a while."""
    told = _own(case)
    if told is None:
        return
    if told.ratio is not None and told.ratio > TOO_RARE and told.interval_s and told.nominal_s:
        yield _finding(
            "ais-rare",
            "advice",
            f"The own AIS reports every {told.interval_s:.0f} s where {told.nominal_s:.0f} s are due.",
            told.ratio,
            "1",
            {"interval_s": told.interval_s, "nominal_s": told.nominal_s, "class": told.transponder},
            "Look at the alarms of the transponder, its VHF aerial and the multiplexer between it and the recorder.",
            "The interval on another vessel's display, under way at a steady speed.",
        )
    long = [(start, end) for start, end in told.silences if end - start > 60 * SILENT_MIN]
    if long:
        longest = max(long, key=lambda one: one[1] - one[0])
        minutes = (longest[1] - longest[0]) / 60
        at = pd.Timestamp(longest[0], unit="s", tz="UTC")
        yield _finding(
            "ais-silent",
            "advice",
            f"The own AIS falls silent {times(len(long))}, for {minutes:.0f} min from {clock(at)}.",
            minutes,
            "min",
            {
                "silences": [
                    {"start_utc": iso(pd.Timestamp(start, unit="s", tz="UTC")), "minutes": (end - start) / 60}
                    for start, end in long[:MOST_LISTED]
                ]
            },
            "Look at the supply of the transponder, and whether its silent mode was on.",
            "An hour's recording without such a pause.",
        )


def complaints(case: Case) -> Iterator[Finding]:
    """Alarms the transponder raised."""
    said = case.traffic.notices
    alarms = said[said["kind"] == "transponder alarm"] if len(said) else said
    raised = [one for one in alarms["text"].tolist() if not one.endswith("cleared")] if len(alarms) else []
    if raised:
        kinds = list(dict.fromkeys(raised))
        yield _finding(
            "ais-alarm",
            "advice",
            f"The transponder complains: {listed(kinds[:3])}.",
            float(len(raised)),
            "1",
            {"alarms": kinds[:MOST_LISTED], "raised": len(raised)},
            "Look the alarm up in the transponder's manual.",
            "No alarm an hour after the cure.",
        )


def shadows(case: Case) -> Iterator[Finding]:
    """Sectors off the bow in which clearly fewer messages come in than elsewhere at the same range."""
    table = case.traffic.reception.sectors
    dark = table[table["shadow"].astype(bool) & (table["of"] == "bow")]
    if dark.empty:
        return
    worst = dark.sort_values("heard_share").iloc[0]
    share, sd = float(worst["heard_share"]), float(worst["heard_sd"])
    names = [f"{int(one):03d}°" for one in dark["middle_deg"]]
    yield _finding(
        "ais-shadow",
        "note",
        f"AIS is heard less around {listed(names)} off the bow: {100 * share:.0f} % ± {100 * SIGMAS_95 * sd:.0f} % "
        "of the messages that come in elsewhere at that range.",
        share,
        "1",
        {"sectors": dark.drop(columns=["shadow", "of"]).to_dict("records")},
        "Look for mast, rigging or metal between the aerial and that side; move the aerial up or out.",
        "The same sectors in the next recording with traffic all round.",
        sd,
    )


def _finding(
    name: str,
    severity: str,
    title: str,
    value: float,
    unit: str,
    evidence: dict[str, object],
    action: str,
    verify: str,
    sd: float | None = None,
) -> Finding:
    return Finding(
        id=name,
        subject=SUBJECT,
        severity=severity,
        title=title,
        value=value,
        sd=sd,
        unit=unit,
        determined=True,
        evidence=evidence,
        action=action,
        verify=verify,
        caution=_LOOKOUT,
    )


RULES = (identity, position, sending, complaints, shadows)
