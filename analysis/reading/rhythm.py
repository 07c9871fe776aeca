"""Sentences that come regularly, and how many of them do not come."""

from collections.abc import Mapping

import numpy as np

from analysis.passage import Fact, Floats, Series, SourceKey
from analysis.robust import robust_sd

FEWEST = 120
LONGEST_PERIOD_S = 12.0
NEAR_PERIOD, UNEVEN = 0.25, 0.4
REGULAR_SHARE, FAST_REGULAR_SHARE, LEAST_SINGLE_SHARE = 0.8, 0.95, 0.4
LONGEST_RUN = 10  # more in a row are an interruption, which has its own fact
WORTH_A_FACT, FULL_SHARE = 0.01, 0.99
BY_CHANCE = 0.5
FAST_PERIOD_S, CELL_S, FEWEST_CELLS = 0.8, 10.0, 30
LEAST_LOST, MOST_LOST = 0.15, 0.6  # below, a gateway's uneven pace looks alike; above, it is none at all
BURSTS = ("GSV", "GSA")
_SAMPLE = 20_000


def find_missing(series: Mapping[SourceKey, Series]) -> list[Fact]:
    """Facts on the sentences that come at a steady pace of which at least 1 % are missing here and there.

    A sentence counts as missing too where none of what it said could be used.
    """
    fullest: dict[tuple[str, str, str], Series] = {}
    for key, one in series.items():
        if key.formatter not in BURSTS and len(one.value) >= FEWEST:
            fullest[key[1:]] = max(fullest.get(key[1:], one), one, key=lambda some: len(some.value))
    facts = []
    for (talker, formatter, instance), one in fullest.items():
        counted = _missing(one)
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


def _missing(one: Series) -> tuple[int, int, float] | None:
    """How many are missing, how many were due, and the period [s]; None where they come at no steady pace."""
    first_s, last_s = one.span_s
    period_s = _period_s(_some_steps_s(one))
    if not 0 < period_s <= LONGEST_PERIOD_S or np.isnan(first_s + last_s):
        return None
    count = len(one.value)
    if count * period_s > FULL_SHARE * (last_s - first_s):
        return 0, count, period_s
    time_s = one.time_s
    time_s = time_s[np.isfinite(time_s)]
    steps = np.diff(time_s)
    ratio = steps / period_s
    whole = np.rint(ratio)
    near = np.abs(ratio - whole) <= NEAR_PERIOD
    within = (whole >= 1) & (whole <= LONGEST_RUN)
    fast = period_s < FAST_PERIOD_S
    if (near & within).mean() < (FAST_REGULAR_SHARE if fast else REGULAR_SHARE):
        return _missing_of_fast(time_s) if fast else None
    if (near & (whole == 1)).mean() < LEAST_SINGLE_SHARE:
        return None
    late = np.flatnonzero(near & within & (whole > 1))
    if late.size < 5 or _beats(late):
        return 0, count, period_s
    missing = int((whole[late] - 1).sum())
    return missing, count + missing, period_s


def _some_steps_s(one: Series) -> Floats:
    """Steps in time between neighbours, those forward in time; a sample that beats with no rhythm of the log."""
    at = np.arange(len(one.row) - 1)
    if len(at) > _SAMPLE:
        at = np.random.default_rng(0).integers(0, len(at), _SAMPLE)
    steps: Floats = one.sentences.time_s[one.row[at + 1]] - one.sentences.time_s[one.row[at]]
    return steps[steps > 0]


def _missing_of_fast(time_s: Floats) -> tuple[int, int, float] | None:
    """The same for what comes several times a second, whose moments within the second are not well known.

    Of a steady pace as many come in each 10 s; where a share q is lost by chance, the number n that comes varies
    by n q (binomial variance over mean). The variance is a robust one, of differences between neighbours.
    """
    counts = np.unique(np.floor(time_s / CELL_S), return_counts=True)[1][1:-1]
    if len(counts) < FEWEST_CELLS:
        return None
    usual = float(np.mean(counts))
    spread = robust_sd(np.diff(counts))
    lost = spread**2 / 2 / usual
    if not LEAST_LOST <= lost <= MOST_LOST:
        return None
    due = round(len(time_s) / (1 - lost))
    return due - len(time_s), due, CELL_S / usual * (1 - lost)


def _period_s(steps_s: Floats) -> float:
    """The mean of the single steps, of which two fifths at least must be: the pace even where half does not arrive.

    Single steps may be uneven, as those of a sentence sent at fixed but unlike moments within the second.
    """
    if len(steps_s) < FEWEST // 2:
        return 0.0
    typical = float(np.percentile(steps_s, 100 * LEAST_SINGLE_SHARE))
    return float(np.mean(steps_s[np.abs(steps_s - typical) <= UNEVEN * typical]))


def _beats(late: np.ndarray) -> bool:
    """Whether long steps come at even distances, as where a rate and a clock's tick do not fit; chance is uneven."""
    between = np.diff(late)
    return bool(np.std(between) < BY_CHANCE * np.mean(between))
