"""The echo sounder: its offset, depths that do not belong together, a lost bottom."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment
from analysis.findings.telling import clock, iso, within
from analysis.passage import Floats, Passage, readings_of
from analysis.robust import robust_sd

SUBJECT = "echo sounder"
# IMO MSC.74(69) annex 4: an echo sounder errs by no more than 0.5 m or 2.5 % of the depth, whichever is greater.
ALLOWED_M, ALLOWED_SHARE = 0.5, 0.025
SETTING_STEP_M = 0.05  # half the step in which sounders print the offset
LARGEST_OFFSET_M = 10.0  # judgement: no yacht's keel or waterline is farther from her transducer
FEWEST = 20
ROUNDING_SD_M = 0.1 / 6**0.5  # two depths, each shown in tenths of a metre
TOGETHER_S = 2.0
SPIKE_SHARE, SPIKE_M, SPIKES_WORTH_A_NOTE = 0.5, 3.0, 0.01
_VERIFY = "At anchor or alongside in calm water, sound with a lead line and compare for two minutes."
_CAUTION = "Until this is settled keep a margin under the keel of at least the difference."


class Pair(NamedTuple):
    """Depths of two sentences at like times: the median difference [m], its scatter, the median depth, how many."""

    difference_m: float
    sd_m: float
    depth_m: float
    compared: int


def settings(case: Case) -> Iterator[Finding]:
    """An offset field that changes on the way, or that fits no yacht."""
    for key, one in case.passage.series.items():
        if key.channel != "depth_offset_m" or len(one.value) < FEWEST:
            continue
        value = one.value
        middle = float(np.median(value))
        changed = np.abs(value - value[0]) > SETTING_STEP_M
        spread = float(np.ptp(value))
        if changed.mean() > 0.01:
            at = int(np.argmax(changed))
            when = one.time_s[at]
            yield _finding(
                "advice",
                f"The sounder's offset changes on the way, from {value[0]:+.1f} to {value[at]:+.1f} m"
                + (f" at {clock(moment(when))}." if np.isfinite(when) else "."),
                float(value[at] - value[0]),
                {
                    "source": key.name,
                    "from_m": float(value[0]),
                    "to_m": float(value[at]),
                    "spread_m": spread,
                    "time_utc": iso(moment(when)) if np.isfinite(when) else None,
                },
                "Set the offset once: + from the transducer up to the waterline, − down to the keel.",
            )
        elif abs(middle) > LARGEST_OFFSET_M:
            yield _finding(
                "advice",
                f"The sounder's offset of {middle:+.1f} m is more than any yacht's draught.",
                middle,
                {"source": key.name, "offset_m": middle},
                "Set the offset anew: + from the transducer up to the waterline, − down to the keel, in metres.",
            )


def references(case: Case) -> Iterator[Finding]:
    """Depths below surface, keel and transducer of one sounder against its own offset field."""
    offset_m = _offset_m(case.passage)
    for channel, words, sign in (
        ("depth_surface_m", "below the surface", 1.0),
        ("depth_keel_m", "below the keel", -1.0),
    ):
        pair = _pair(case.passage, channel)
        if pair is None:
            continue
        allowed = max(ALLOWED_M, ALLOWED_SHARE * pair.depth_m)
        sure = 3 * pair.sd_m
        evidence: dict[str, object] = {
            "difference_m": pair.difference_m,
            "sd_m": pair.sd_m,
            "offset_field_m": offset_m,
            "allowed_m": allowed,
            "compared": pair.compared,
        }
        if sign * pair.difference_m < -max(allowed, sure):
            yield _finding(
                "advice",
                f"The depth {words} lies {abs(pair.difference_m):.1f} {within(pair.sd_m, ' m')} on the wrong side "
                "of that below the transducer.",
                pair.difference_m,
                evidence,
                "Turn the sign of the sounder's offset: + is up to the waterline, − is down to the keel.",
                pair.sd_m,
            )
        elif offset_m is not None and offset_m * sign > 0:
            apart = pair.difference_m - offset_m
            if abs(apart) > max(allowed, sure):
                yield _finding(
                    "advice",
                    f"The depth {words} and the offset of {offset_m:+.1f} m sent beside it disagree by "
                    f"{abs(apart):.1f} {within(pair.sd_m, ' m')}.",
                    apart,
                    evidence,
                    f"Set one offset everywhere; measure the transducer's distance to the {words.split()[-1]}.",
                    pair.sd_m,
                )


def spikes(case: Case) -> Iterator[Finding]:
    """Single depths far from their neighbours: a lost bottom, weed, wake."""
    _, depth_m = readings_of(case.passage, "depth_m")
    if len(depth_m) < 10 * FEWEST:
        return
    windows = np.lib.stride_tricks.sliding_window_view(depth_m, 5)
    inner = depth_m[2:-2]
    far = np.abs(np.diff(depth_m)) > np.maximum(SPIKE_M, SPIKE_SHARE * depth_m[1:])
    near = np.zeros(len(depth_m), dtype=bool)
    near[1:] |= far
    near[:-1] |= far
    places = np.flatnonzero(near[2:-2])
    usual = np.median(windows[places], axis=1)
    odd = np.abs(inner[places] - usual) > np.maximum(SPIKE_M, SPIKE_SHARE * usual)
    share = float(odd.sum()) / len(depth_m)
    if share < SPIKES_WORTH_A_NOTE:
        return
    zeros = float(np.mean(inner[places][odd] == 0))
    yield Finding(
        id="depth-spikes",
        subject=SUBJECT,
        severity="note",
        title=f"The sounder loses the bottom: {100 * share:.1f} % of its depths are far from their neighbours.",
        value=100 * share,
        sd=None,
        unit="%",
        determined=True,
        evidence={"spikes": int(odd.sum()), "readings": len(depth_m), "share_of_zeros": zeros},
        action="Take single depths for what they are; clean the transducer if this happens in shallow, still water.",
        verify="Watch the depth for two minutes at anchor in less than 10 m.",
        caution="A lost bottom may show a shallow depth, or an old one.",
    )


def _pair(passage: Passage, channel: str) -> Pair | None:
    """The depth of a channel against the depth below the transducer that the same talker sends."""
    for key, one in passage.series.items():
        if key.channel != channel or len(one.value) < FEWEST:
            continue
        other = next(
            (
                two
                for with_, two in passage.series.items()
                if with_.channel == "depth_m"
                and (with_.talker, with_.instance) == (key.talker, key.instance)
                and len(two.value) >= FEWEST
            ),
            None,
        )
        if other is None:
            continue
        depth, below = _together(one.time_s, one.value, other.time_s, other.value)
        if len(depth) < FEWEST:
            continue
        difference = depth - below
        middle = float(np.median(difference))
        sd = robust_sd(difference - middle)
        sd = float(np.hypot(sd / np.sqrt(min(len(depth), 100)), ROUNDING_SD_M))
        return Pair(middle, sd, float(np.median(below)), len(depth))
    return None


def _together(
    time_s: Floats, value: Floats, other_time_s: Floats, other_value: Floats
) -> tuple[Floats, Floats]:
    """Values of two series where the other's nearest reading lies within two seconds."""
    at = np.clip(np.searchsorted(other_time_s, time_s), 1, len(other_time_s) - 1)
    at = np.where(time_s - other_time_s[at - 1] <= other_time_s[at] - time_s, at - 1, at)
    near = np.abs(other_time_s[at] - time_s) <= TOGETHER_S
    return value[near], other_value[at[near]]


def _offset_m(passage: Passage) -> float | None:
    offsets = [
        one.value
        for key, one in passage.series.items()
        if key.channel == "depth_offset_m" and len(one.value) >= FEWEST
    ]
    return float(np.median(offsets[0])) if len(offsets) == 1 else None


def _finding(
    severity: str,
    title: str,
    value: float,
    evidence: dict[str, object],
    action: str,
    sd: float | None = None,
) -> Finding:
    return Finding(
        id="depth-offset",
        subject=SUBJECT,
        severity=severity,
        title=title,
        value=value,
        sd=sd,
        unit="m",
        determined=True,
        evidence=evidence,
        action=action,
        verify=_VERIFY,
        caution=_CAUTION,
    )


RULES = (settings, references, spikes)
