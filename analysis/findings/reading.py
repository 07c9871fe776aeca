"""The log itself: its clock, damaged and missing sentences, an overloaded port, instruments that fall silent."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from analysis.channels import CHANNELS
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.words import iso, times
from analysis.passage import Fact, Passage, seconds_of

# No standard says how many sentences a line may damage or lose; the shares are judgement. Short losses are
# bridged up to four periods, so that 5 % at random cost nothing but are a sign of a line that is not sound.
DAMAGED_ADVICE, DAMAGED_FAULT = 0.005, 0.05
MISSING_ADVICE, MISSING_FAULT = 0.05, 0.5
FULL_PORT_PERCENT = 90.0
SILENT_S, SILENT_READINGS, UNDER_WAY_KN = 600.0, 300, 2.0
INTERRUPTED_NOTE, INTERRUPTED_ADVICE, INTERRUPTED_S = 0.02, 0.15, 300.0
BACKWARD_FOR_A_MOMENT = 30
TWO_CLOCKS_S = 3.0  # a time passed on by another instrument comes a second or two late


class _Clock(NamedTuple):
    severity: str
    action: str
    caution: str = ""


_CLOCK = {
    "clock-stepped-back": _Clock(
        "fault",
        "Find out what set the clock back (power, a second receiver), and which part of the log is right.",
        "Where two parts tell the same times, track and sums mix them.",
    ),
    "week-rollover": _Clock(
        "fault",
        "Update or replace the GNSS receiver: it tells a date 1024 weeks early; dates here are put right.",
        "Instruments that reckon tide or variation by that date are wrong.",
    ),
    "clock-never-set": _Clock("note", "Record only once the GNSS receiver has a fix, or give --date."),
    "no-date": _Clock("note", "Give the date with --date, and let the receiver send RMC or ZDA."),
    "no-time": _Clock("note", "Let the receiver send RMC or ZDA, or the recorder stamp each line."),
    "stamps-wander": _Clock("note", "Let the recorder stamp each line as it arrives."),
    "stamps-local": _Clock("note", "Set the recorder's clock to UTC."),
    "stamps-off": _Clock("note", "Set the recorder's clock by GNSS time."),
    "stamps-drift": _Clock("note", "Let the recorder keep its clock by GNSS time."),
    "stamps-unzoned": _Clock("note", "Set the recorder's clock to UTC and let it write the zone."),
}
_VERIFY_CLOCK = "Compare the recorded time with a radio or telephone time for one minute."


def clock(case: Case) -> Iterator[Finding]:
    """What is wrong with the time the log tells."""
    for fact in case.passage.facts:
        if fact.id in _CLOCK:
            yield _clock_finding(fact, _CLOCK[fact.id])
        elif fact.id == "clock-backward":
            yield _clock_finding(*_set_back(fact))
        elif fact.id == "two-clocks":
            apart = abs(_number(fact, "lag_s")) >= TWO_CLOCKS_S
            yield _clock_finding(
                fact,
                _Clock(
                    "advice" if apart else "note",
                    "Let one receiver give the time to all instruments; update the one that is off.",
                ),
            )
    yield from _leap(case.passage)


def _clock_finding(fact: Fact, how: _Clock) -> Finding:
    return Finding(
        id="clock",
        subject="clock",
        severity=how.severity,
        title=fact.text,
        value=None,
        sd=None,
        unit="",
        determined=True,
        evidence={"fact": fact.id, **fact.numbers},
        action=how.action,
        verify=_VERIFY_CLOCK,
        caution=how.caution,
    )


def _set_back(fact: Fact) -> tuple[Fact, _Clock]:
    sentences = int(_number(fact, "sentences"))
    if sentences <= BACKWARD_FOR_A_MOMENT:
        return fact, _Clock("note", "Nothing to do.")
    told = Fact(
        fact.id,
        f"The GNSS clock was set back: {sentences:,} sentences tell a time that had been told before.",
        fact.numbers,
    )
    action = "Find out what set the clock back; check the receiver's supply."
    return told, _Clock("fault", action, "Times beside the step may be off by its size.")


def _leap(passage: Passage) -> Iterator[Finding]:
    """A clock that leaps forward: the log is silent for long, but the boat under way has not moved."""
    frame = passage.frame
    if not {"lat_deg", "lon_deg", "sog_kn"} <= set(frame):
        return
    known = frame[["lat_deg", "lon_deg", "sog_kn"]].notna().all(axis=1).to_numpy()
    time_s = seconds_of(frame)[known]
    lat, lon, sog = (frame[name].to_numpy()[known] for name in ("lat_deg", "lon_deg", "sog_kn"))
    for gap in passage.gaps:
        after = int(np.searchsorted(time_s, gap.end_s - 1))
        before = int(np.searchsorted(time_s, gap.start_s + 1)) - 1
        if before < 0 or after >= len(time_s) or after <= before:
            continue
        slower = min(
            float(np.median(sog[max(before - 30, 0) : before + 1])), float(np.median(sog[after : after + 30]))
        )
        silent_s = gap.end_s - gap.start_s
        moved_nm = 60 * float(
            np.hypot(lat[after] - lat[before], (lon[after] - lon[before]) * np.cos(np.radians(lat[before])))
        )
        if slower < UNDER_WAY_KN or moved_nm > 0.02 + slower * min(20.0, 0.1 * silent_s) / 3600:
            continue
        yield _clock_finding(
            Fact(
                "clock-leapt",
                f"The clock leaps forward by {silent_s / 60:.1f} min at {iso(gap.start_s)}: the boat, under way at "
                f"{slower:.1f} kn, had not moved.",
                {"leap_s": silent_s, "time_utc": iso(gap.start_s), "moved_nm": moved_nm, "sog_kn": slower},
            ),
            _Clock(
                "fault", "Find out what set the clock; speeds and current beside the leap are not to be used."
            ),
        )


def damage(case: Case) -> Iterator[Finding]:
    """Sentences that arrive damaged."""
    counts = case.passage.counts
    damaged = _damaged(case.passage)
    if counts.sentences == 0:
        return
    share = damaged / counts.sentences
    sd = float(np.sqrt(damaged)) / counts.sentences
    if share - 3 * sd < DAMAGED_ADVICE:
        return
    yield Finding(
        id="checksum-errors",
        subject="line",
        severity="fault" if share >= DAMAGED_FAULT else "advice",
        title=f"{100 * share:.1f} ± {196 * sd:.1f} % of the sentences arrive damaged.",
        value=100 * share,
        sd=100 * sd,
        unit="%",
        determined=True,
        evidence={
            "damaged": damaged,
            "sentences": counts.sentences,
            "first_lines": list(counts.first_lines.get("checksum", ())),
        },
        action="Check plugs, earth and baud rate of the line, and that no port is fed faster than it sends.",
        verify="Record ten minutes with the engine and radio on, then off, and compare the share.",
        caution="A damaged sentence without a checksum is not found out.",
    )


def _damaged(passage: Passage) -> int:
    return sum(passage.counts.rejected.get(reason, 0) for reason in ("checksum", "no_checksum", "truncated"))


def losses(case: Case) -> Iterator[Finding]:
    """Regular sentences that do not all come, and whether a port too slow for them explains it."""
    counts = case.passage.counts
    damaged = _damaged(case.passage) / max(counts.sentences, 1)
    lost = [fact for fact in case.passage.facts if fact.id == "sentences-missing" and not _depth(fact)]
    shares = {_source(fact): _number(fact, "missing") / _number(fact, "due") for fact in lost}
    shares = {name: share for name, share in shares.items() if share > 0.01 + 2 * damaged}
    if not shares:
        return
    full = {
        str(fact.numbers["talker"]): _number(fact, "percent_of_4800_bd")
        for fact in case.passage.facts
        if fact.id == "line-load" and _number(fact, "percent_of_4800_bd") >= FULL_PORT_PERCENT
    }
    worst, share = max(shares.items(), key=lambda one: one[1])
    severity = "fault" if share >= MISSING_FAULT else "advice" if share >= MISSING_ADVICE else "note"
    evidence: dict[str, object] = {"share_missing": shares}
    loaded = next(
        (talker for talker in full if talker == "" or any(n.startswith(talker) for n in shares)), None
    )
    if loaded is not None:
        whose = f"talker {loaded}" if loaded else "all talkers together"
        yield _loss(
            "port-overloaded",
            severity,
            f"The line of {whose} carries {full[loaded]:.0f} % of what 4800 Bd can, and up to {100 * share:.0f} % of "
            f"its regular sentences do not come ({worst}).",
            full[loaded],
            evidence | {"percent_of_4800_bd": full},
            "Switch off sentences nobody needs, lower their rates, or set the port to 38400 Bd at both ends.",
        )
    else:
        yield _loss(
            "sentences-missing",
            severity,
            f"{100 * share:.0f} % of the regular sentences {worst} are missing or hold nothing usable.",
            100 * share,
            evidence,
            "Check the line and its multiplexer; look for two senders on one input.",
        )


def _loss(
    name: str, severity: str, title: str, value: float, evidence: Mapping[str, object], action: str
) -> Finding:
    return Finding(
        id=name,
        subject="line",
        severity=severity,
        title=title,
        value=value,
        sd=None,
        unit="%",
        determined=True,
        evidence=evidence,
        action=action,
        verify="Record ten minutes again and compare the count.",
        caution="",
    )


def silences(case: Case) -> Iterator[Finding]:
    """Instruments that fall silent while the boat is under way, for good or again and again."""
    passage = case.passage
    for names, instrument in _INSTRUMENTS:
        last_s = max(
            (
                one.span_s[1]
                for key, one in passage.series.items()
                if key.channel in names and _many(one.value)
            ),
            default=np.nan,
        )
        if np.isfinite(last_s) and len(passage.frame):
            yield from _fell_silent(passage, instrument, float(last_s))
    span_s = float(np.ptp(seconds_of(passage.frame))) if len(passage.frame) else 0.0
    for fact in passage.facts:
        if fact.id != "interrupted" or not span_s or str(fact.numbers["channel"]).startswith("depth"):
            continue
        share = _number(fact, "seconds") / span_s
        if share < INTERRUPTED_NOTE or _number(fact, "seconds") < INTERRUPTED_S:
            continue
        channel = str(fact.numbers["channel"])
        label = CHANNELS[channel].label
        yield Finding(
            id="interrupted",
            subject="line",
            severity="advice" if share >= INTERRUPTED_ADVICE else "note",
            title=f"{label} is interrupted {times(int(_number(fact, 'times')))}, for {100 * share:.0f} % of the log.",
            value=100 * share,
            sd=None,
            unit="%",
            determined=True,
            evidence=dict(fact.numbers),
            action="Check the instrument's plug and supply.",
            verify="Watch its display for ten minutes under way.",
            caution="",
        )


_INSTRUMENTS = (
    (("lat_deg", "sog_kn"), "GNSS receiver"),
    (("heading_mag_deg", "heading_true_deg"), "compass"),
    (("stw_kn",), "log"),
    (("awa_deg", "aws_kn"), "wind instrument"),
)


def _fell_silent(passage: Passage, instrument: str, last_s: float) -> Iterator[Finding]:
    frame = passage.frame
    time_s = seconds_of(frame)
    silent_s = float(time_s[-1]) - last_s
    speed = next((name for name in ("sog_kn", "stw_kn") if name in frame), None)
    if silent_s < SILENT_S or speed is None:
        return
    left = frame[speed].to_numpy()[time_s > last_s]
    moving_s = float(np.sum(left > UNDER_WAY_KN))
    if moving_s < SILENT_S:
        return
    yield Finding(
        id="instrument-silent",
        subject=instrument,
        severity="fault",
        title=f"The {instrument} falls silent at {iso(last_s)}, {silent_s / 3600:.1f} h before the log ends.",
        value=silent_s / 3600,
        sd=None,
        unit="h",
        determined=True,
        evidence={"last_utc": iso(last_s), "silent_s": silent_s, "under_way_s": moving_s},
        action="Check its supply, fuse and plug.",
        verify="Switch it off and on and watch its display for five minutes.",
        caution="What is reckoned from it ends there too.",
    )


def _many(value: np.ndarray) -> bool:
    return len(value) >= SILENT_READINGS


def _depth(fact: Fact) -> bool:
    """Whether a fact is about a sounder, which rightly says nothing where it finds no bottom."""
    return str(fact.numbers["formatter"]) in ("DPT", "DBT", "DBS", "DBK")


def _source(fact: Fact) -> str:
    name = f"{fact.numbers['talker']}{fact.numbers['formatter']}"
    return name + (f" ({fact.numbers['instance']})" if fact.numbers["instance"] else "")


def _number(fact: Fact, name: str) -> float:
    value = fact.numbers.get(name, 0.0)
    return float(value) if isinstance(value, int | float) else 0.0


RULES = (clock, losses, damage, silences)
