"""Facts about a log that any reader of its results should know."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.kernels import count_characters
from analysis.passage import Fact, Floats, Gap, Ints, Series, SourceKey

BAUD_4800_CHARS_PER_S = 480.0
FULL_PORT, JUST_FULL = (
    0.9,
    1.15,
)  # several talkers on one port fill it; much more than it carries did not come by it
_LIVELY = {
    "stw_kn",
    "awa_deg",
    "aws_kn",
    "heading_mag_deg",
    "heading_true_deg",
    "depth_m",
    "air_pressure_hpa",
}
_FEWEST_SPANS, _MOST_SPANS = 4, 1_000_000
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
            facts.append(
                Fact("broken-off", f"{name} is compressed and breaks off; what came before is used.")
            )
        if mended:
            facts.append(
                Fact(
                    "mended",
                    f"{name}: {mended} torn sentences were put together again.",
                    {"sentences": mended},
                )
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
                f"The recording is silent {_times(len(gaps))}, for {_duration(longest)} at the longest.",
                {"gaps": len(gaps), "longest_s": round(longest, 1)},
            )
        )
    facts += _line_load(lines, addresses)
    return facts


def _line_load(lines: Sequence[tuple[Floats, np.ndarray, Ints]], addresses: Sequence[str]) -> list[Fact]:
    """How full a 4800 Bd port would be with each talker's sentences (480 characters a second).

    The figure is common practice: 8 data bits with a start and a stop bit.
    """
    names, talker = np.unique(
        ["" if address.endswith(("VDM", "VDO")) else address[:2] for address in addresses],
        return_inverse=True,
    )
    load = np.zeros(len(names))
    together = 0.0
    for time_s, length, address in lines:
        if len(time_s) == 0 or np.isnan(time_s[0]):
            continue
        start_s = float(time_s.min())
        spans = int((time_s.max() - start_s) / 10) + 1
        if not _FEWEST_SPANS <= spans <= _MOST_SPANS:
            continue
        cells = np.zeros((len(names), spans))
        count_characters(time_s, length, talker[address], start_s, 10.0, cells)
        for k, chars in enumerate(cells):
            busy = chars[chars > 0]
            if len(busy) >= _FEWEST_SPANS:
                load[k] = max(load[k], float(np.percentile(busy, 95)) / 10)
        together = max(together, float(np.percentile(cells[names != ""].sum(axis=0), 95)) / 10)
    full = [
        _full_port(f"Talker {name}", str(name), chars)
        for name, chars in zip(names, load.tolist(), strict=True)
        if name and chars > FULL_PORT * BAUD_4800_CHARS_PER_S
    ]
    if not full and FULL_PORT * BAUD_4800_CHARS_PER_S < together < JUST_FULL * BAUD_4800_CHARS_PER_S:
        full = [_full_port("The talkers together", "", together)]
    return full


def _full_port(who: str, talker: str, chars: float) -> Fact:
    percent = round(chars / BAUD_4800_CHARS_PER_S * 100)
    verb = "sends" if talker else "send"
    return Fact(
        "line-load",
        f"{who} {verb} {chars:.0f} characters a second, {percent} % of a 4800 Bd port.",
        {"talker": talker, "chars_per_s": round(chars), "percent_of_4800_bd": percent},
    )


def of_series(series: Mapping[SourceKey, Series], gaps: Sequence[Gap]) -> list[Fact]:
    """Facts on single sources: values that never change, and interruptions while the log goes on."""
    facts = []
    for key, one in series.items():
        if key.channel not in _LIVELY or len(one.value) < _STILL_READINGS:
            continue
        time_s = one.time_s
        if np.isnan(time_s[0]):
            continue
        span = float(time_s[-1] - time_s[0])
        name = f"{key.channel} of {key.talker}{key.formatter}" + (
            f" ({key.instance})" if key.instance else ""
        )
        if span > _STILL_S and np.ptp(one.value) == 0:
            facts.append(
                Fact(
                    "constant-value",
                    f"{name} reads {one.value[0]:g} {one.unit} throughout.",
                    {"channel": key.channel, "value": float(one.value[0]), "readings": len(one.value)},
                )
            )
        steps = np.diff(time_s)
        usual = float(np.median(steps))
        outages = np.flatnonzero(steps > max(10.0, 4 * usual))
        own = [k for k in outages if not any(_overlap(time_s[k], time_s[k + 1], gap) for gap in gaps)]
        long = steps[own]
        if long.size:
            facts.append(
                Fact(
                    "interrupted",
                    f"{name} is interrupted {_times(long.size)}, {long.sum():.0f} s in all.",
                    {"channel": key.channel, "times": int(long.size), "seconds": float(long.sum())},
                )
            )
    return facts


def _overlap(start_s: float, end_s: float, gap: Gap) -> bool:
    return bool(start_s < gap.end_s and gap.start_s < end_s)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _duration(seconds: float) -> str:
    for unit, length in (("days", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * length:
            return f"{seconds / length:.0f} {unit}"
    return f"{seconds:.0f} s"
