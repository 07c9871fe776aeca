"""Sentences that come regularly, and how many of them do not come."""

from collections.abc import Mapping

import numpy as np

from analysis.passage import Fact, Floats, Series, SourceKey

FEWEST = 120
LONGEST_PERIOD_S = 12.0
NEAR_PERIOD = 0.35
REGULAR_SHARE = 0.7
LONGEST_RUN = 10  # more in a row are an interruption, which has its own fact
WORTH_A_FACT = 0.01
BY_CHANCE = 0.5
_SAMPLE = 20_000


def find_missing(series: Mapping[SourceKey, Series]) -> list[Fact]:
    """Facts on the sentences that come at a steady pace of which at least 1 % are missing here and there.

    A sentence counts as missing too where none of what it said could be used.
    """
    fullest: dict[tuple[str, str, str], Series] = {}
    for key, one in series.items():
        if len(one.value) >= FEWEST and len(one.value) > len(fullest.get(key[1:], one).value) - 1:
            fullest[key[1:]] = one
    facts = []
    for (talker, formatter, instance), one in fullest.items():
        counted = _missing(one.time_s)
        if counted is None:
            continue
        missing, due, period_s = counted
        if missing < WORTH_A_FACT * due:
            continue
        name = f"{talker}{formatter}" + (f" ({instance})" if instance else "")
        facts.append(
            Fact(
                "sentences-missing",
                f"{missing:,} of {due:,} sentences {name} are missing or hold nothing usable, "
                f"{100 * missing / due:.0f} %.",
                {
                    "talker": talker,
                    "formatter": formatter,
                    "instance": instance,
                    "missing": missing,
                    "due": due,
                    "period_s": round(period_s, 3),
                },
            )
        )
    return facts


def _missing(time_s: Floats) -> tuple[int, int, float] | None:
    """How many are missing, how many were due, and the period [s]; None where they come at no steady pace."""
    steps = np.diff(time_s)
    if np.isnan(steps[0]):
        return None
    some = steps[:: 1 + len(steps) // _SAMPLE]
    period_s = _period_s(some[some > 0])
    if not 0 < period_s <= LONGEST_PERIOD_S:
        return None
    ratio = steps / period_s
    whole = np.rint(ratio)
    near = np.abs(ratio - whole) <= NEAR_PERIOD
    within = (whole >= 1) & (whole <= LONGEST_RUN)
    if (near & within).mean() < REGULAR_SHARE:
        return None
    late = np.flatnonzero(near & within & (whole > 1))
    if late.size < 5 or _beats(late):
        return 0, len(time_s), period_s
    missing = int((whole[late] - 1).sum())
    return missing, len(time_s) + missing, period_s


def _period_s(steps_s: Floats) -> float:
    """The shortest step that comes often: the pace of what arrives even where half does not."""
    if len(steps_s) < FEWEST // 2:
        return 0.0
    low = float(np.percentile(steps_s, 20))
    near = steps_s[np.abs(steps_s - low) <= NEAR_PERIOD * low]
    return float(np.median(near))


def _beats(late: np.ndarray) -> bool:
    """Whether long steps come at even distances, as where a rate and a clock's tick do not fit; chance is uneven."""
    between = np.diff(late)
    return bool(np.std(between) < BY_CHANCE * np.mean(between))
