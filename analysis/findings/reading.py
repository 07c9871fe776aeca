"""The line: damaged and missing sentences, an overloaded port, instruments that fall silent."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment, number
from analysis.findings.telling import clock, iso, listed, times
from analysis.passage import Fact, Passage, seconds_of

# No standard says how many sentences a line may damage or lose; the shares are judgement. Short losses are
# bridged up to four periods, so that 5 % at random cost nothing but are a sign of a line that is not sound.
DAMAGED_ADVICE, DAMAGED_FAULT = 0.005, 0.05
MISSING_ADVICE, MISSING_FAULT = 0.05, 0.5
JUST_FULL_PERCENT = 115.0  # a port that carries more than 4800 Bd can is a faster one
SILENT_S, SILENT_READINGS, UNDER_WAY_KN = 600.0, 300, 2.0
INTERRUPTED_NOTE, INTERRUPTED_ADVICE, INTERRUPTED_S = 0.02, 0.15, 300.0


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
        title=f"{100 * share:.1f} ± {100 * SIGMAS_95 * sd:.1f} % of the sentences arrive damaged.",
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
    shares = {_source(fact): number(fact, "missing") / number(fact, "due") for fact in lost}
    shares = {name: share for name, share in shares.items() if share > 0.01 + 2 * damaged}
    if not shares:
        return
    full = {
        str(fact.numbers["talker"]): number(fact, "percent_of_4800_bd")
        for fact in case.passage.facts
        if fact.id == "line-load" and number(fact, "percent_of_4800_bd") <= JUST_FULL_PERCENT
    }
    worst, share = max(shares.items(), key=lambda one: one[1])
    severity = "fault" if share >= MISSING_FAULT else "advice" if share >= MISSING_ADVICE else "note"
    evidence: dict[str, object] = {"share_missing": shares}
    loaded = next(
        (talker for talker in full if talker == "" or any(n.startswith(talker) for n in shares)), None
    )
    if loaded is not None:
        whose = f"talker {loaded}" if loaded else "all talkers"
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
    broken = [
        fact
        for fact in passage.facts
        if fact.id == "interrupted" and span_s and not str(fact.numbers["channel"]).startswith("depth")
    ]
    broken = [
        fact for fact in broken if number(fact, "seconds") >= max(INTERRUPTED_NOTE * span_s, INTERRUPTED_S)
    ]
    if broken:
        yield _interrupted(broken, span_s)


def _interrupted(broken: Sequence[Fact], span_s: float) -> Finding:
    """One finding for all quantities that come and go, named by the worst of them."""
    worst = max(broken, key=lambda fact: number(fact, "seconds"))
    share = number(worst, "seconds") / span_s
    names = sorted({CHANNELS[str(fact.numbers["channel"])].label for fact in broken})
    label = CHANNELS[str(worst.numbers["channel"])].label
    others = f"; so are {listed([name for name in names if name != label])}" if len(names) > 1 else ""
    often = times(int(number(worst, "times")))
    return Finding(
        id="interrupted",
        subject="line",
        severity="advice" if share >= INTERRUPTED_ADVICE else "note",
        title=f"{label} is interrupted {often}, for {100 * share:.0f} % of the recording{others}.",
        value=100 * share,
        sd=None,
        unit="%",
        determined=True,
        evidence={str(fact.numbers["channel"]): number(fact, "seconds") for fact in broken},
        action="Check plug and supply of each instrument named.",
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
    last = moment(last_s)
    yield Finding(
        id="instrument-silent",
        subject=instrument,
        severity="fault",
        title=f"The {instrument} falls silent at {clock(last)}, {silent_s / 3600:.1f} h before the recording ends.",
        value=silent_s / 3600,
        sd=None,
        unit="h",
        determined=True,
        evidence={"last_utc": iso(last), "silent_s": silent_s, "under_way_s": moving_s},
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


RULES = (losses, damage, silences)
