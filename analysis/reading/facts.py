"""Facts about a log that any reader of its results should know."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.passage import Fact, Floats, Gap, Ints, Series, SourceKey

BAUD_4800_CHARS_PER_S = 480.0
_LIVELY = {"stw_kn", "awa_deg", "aws_kn", "heading_mag_deg", "heading_true_deg", "depth_m", "air_pressure_hpa"}
_STILL_S, _STILL_READINGS = 60.0, 20


def of_sentences(
    files: Sequence[tuple[str, bool, int]],
    lines: Sequence[tuple[Floats, np.ndarray, Ints]],
    addresses: Sequence[str],
    gaps: Sequence[Gap],
    lost_fragments: int,
) -> list[Fact]:
    """Facts on files (name, broken off, mended), line load, gaps and AIS fragments."""
    facts = []
    for name, broken_off, mended in files:
        if broken_off:
            facts.append(Fact("broken-off", f"{name} is compressed and breaks off; what came before is used."))
        if mended:
            facts.append(
                Fact("mended", f"{name}: {mended} torn sentences were put together again.", {"sentences": mended})
            )
    if lost_fragments:
        facts.append(
            Fact(
                "ais-incomplete",
                f"{lost_fragments} AIS fragments found no partner.",
                {"fragments": lost_fragments},
            )
        )
    if gaps:
        longest = max(gap.end_s - gap.start_s for gap in gaps)
        facts.append(
            Fact(
                "gaps",
                f"The log is silent {len(gaps)} times, for {longest / 60:.0f} min at the longest.",
                {"gaps": len(gaps), "longest_s": round(longest, 1)},
            )
        )
    facts += _line_load(lines, addresses)
    return facts


def _line_load(lines: Sequence[tuple[Floats, np.ndarray, Ints]], addresses: Sequence[str]) -> list[Fact]:
    """How full a 4800 Bd port would be with each talker's sentences (480 characters a second).

    The figure is common practice: 8 data bits with a start and a stop bit.
    """
    facts = []
    talkers = np.array(["" if address.endswith(("VDM", "VDO")) else address[:2] for address in addresses])
    for talker in np.unique(talkers[talkers != ""]):
        load = 0.0
        for time_s, length, address in lines:
            mine = (talkers[address] == talker) & ~np.isnan(time_s)
            if mine.sum() < 20:
                continue
            tens = np.floor((time_s[mine] - time_s[mine].min()) / 10).astype(np.int64)
            if tens.max() < 3 or tens.max() > 10_000_000:
                continue
            chars = np.bincount(tens, weights=length[mine])
            load = max(load, float(np.percentile(chars[chars > 0], 95)) / 10)
        if load > 0.9 * BAUD_4800_CHARS_PER_S:
            facts.append(
                Fact(
                    "line-load",
                    f"Talker {talker} sends {load:.0f} characters a second, {load / 4.8:.0f} % of a 4800 Bd port.",
                    {"talker": str(talker), "chars_per_s": round(load), "percent_of_4800_bd": round(load / 4.8)},
                )
            )
    return facts


def of_series(series: Mapping[SourceKey, Series], gaps: Sequence[Gap]) -> list[Fact]:
    """Facts on single sources: values that never change, and interruptions while the log goes on."""
    facts = []
    for key, one in series.items():
        if len(one.value) < _STILL_READINGS or np.isnan(one.time_s[0]):
            continue
        span = float(one.time_s[-1] - one.time_s[0])
        name = f"{key.channel} of {key.talker}{key.formatter}" + (f" ({key.instance})" if key.instance else "")
        if key.channel in _LIVELY and span > _STILL_S and np.ptp(one.value) == 0:
            facts.append(
                Fact(
                    "constant-value",
                    f"{name} reads {one.value[0]:g} {one.unit} throughout.",
                    {"channel": key.channel, "value": float(one.value[0]), "readings": len(one.value)},
                )
            )
        steps = np.diff(one.time_s)
        usual = float(np.median(steps))
        outages = np.flatnonzero(steps > max(10.0, 4 * usual))
        own = [k for k in outages if not any(_overlap(one.time_s[k], one.time_s[k + 1], gap) for gap in gaps)]
        long = steps[own]
        if key.channel in _LIVELY and long.size:
            facts.append(
                Fact(
                    "interrupted",
                    f"{name} is interrupted {long.size} times, {long.sum():.0f} s in all.",
                    {"channel": key.channel, "times": int(long.size), "seconds": float(long.sum())},
                )
            )
    return facts


def _overlap(start_s: float, end_s: float, gap: Gap) -> bool:
    return bool(start_s < gap.end_s and gap.start_s < end_s)
