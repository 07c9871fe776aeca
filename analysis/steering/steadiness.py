"""How steadily the boat is steered by point of sail, and which wind it is steadier to steer by.

A pilot that holds an angle to the wind exactly turns the boat by as much as that wind's direction swings. So the
steadier reference is the one whose direction (heading + angle) swings less, however the boat was really steered;
the angles themselves, as sailed, say how well she was kept to them.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.calibration.small_samples import widening
from analysis.estimate import SIGMAS_95
from analysis.manoeuvres import Manoeuvres
from analysis.passage import NO_ROWS, Bools, Floats, Ints, Passage, column, spans
from analysis.steering.rates import smoothed, straight
from analysis.vectors import wrap_signed_deg

CLASSES = ((0, 60, "close-hauled"), (60, 85, "close reach"), (85, 115, "beam reach"),
           (115, 145, "broad reach"), (145, 180, "run"))  # fmt: skip
UPWIND, DOWNWIND = (0.0, 70.0), (110.0, 180.0)
WINDOW_ROWS, LEAST_ROWS, SMOOTH_ROWS = (
    300,
    240,
    10,
)  # a pilot on the wind answers in some ten seconds (judgment)
MARGIN_S = 45
LEAST_WINDOWS = 5
PILOT = ("HTD",)  # a heading controller says it of itself (from memory)
PLOTTER = ("APA", "APB", "AAM", "HSC", "HTC", "XTE", "XTR")  # sent to a pilot, whether there is one or not


@dataclass(frozen=True)
class ByAngle:
    """One point of sail: how far apparent and true wind angle and heading wander in five minutes, one-sigma [deg].

    ``awd_deg`` and ``twd_deg`` are those of the directions of the apparent and the true wind over the water: what
    holding the angle would ask of the helm. ``pilot_deg`` is the mean size of the rudder's movement about its
    mean, None without a rudder sensor.
    """

    name: str
    from_deg: float
    to_deg: float
    windows: int
    minutes: float
    awa_deg: float
    twa_deg: float
    heading_deg: float
    awd_deg: float
    twd_deg: float
    rudder_deg: float | None


@dataclass(frozen=True)
class Comparison:
    """How many times as far the apparent wind's direction swings as the true wind's: ``ratio`` at 95 % within
    ``low`` to ``high``; None where there are too few windows of five minutes. ``steadier`` is "AWA", "TWA" or "".
    """

    name: str
    windows: int
    ratio: float | None
    low: float | None
    high: float | None
    steadier: str
    reason: str = ""


@dataclass(frozen=True)
class Steadiness:
    """How steadily the boat was steered. ``pilot`` and ``plotter`` name the sentences by a pilot and for
    one that the log holds.

    ``missing`` says why there is nothing to be told, "" otherwise. ``yaw_deg`` is how far the heading wanders on
    starboard and on port tack, upwind and downwind together, with its one-sigma.
    """

    classes: tuple[ByAngle, ...]
    upwind: Comparison
    downwind: Comparison
    yaw_deg: tuple[tuple[str, float, float], ...]
    pilot: tuple[str, ...]
    plotter: tuple[str, ...]
    missing: str


def watch_steadiness(
    passage: Passage, frame: pd.DataFrame, manoeuvres: Manoeuvres, rudder: str = ""
) -> Steadiness:
    """Sum up the wander of a corrected and derived frame at 1 s over windows of five minutes without a turn.

    ``rudder`` is the column of the rudder, "" where there is none.
    """
    spoken = {one.key.formatter for one in passage.sources} | set(passage.counts.unknown_formatters)
    pilot, plotter = (tuple(name for name in names if name in spoken) for names in (PILOT, PLOTTER))
    if lacking := _lacking(frame):
        return Steadiness((), _untold("upwind"), _untold("downwind"), (), pilot, plotter, lacking)
    heading, awa, twa = (_smoothed_deg(column(frame, name)) for name in
                         ("heading_true_deg", "awa_deg", "twa_water_deg"))  # fmt: skip
    good = straight(frame, manoeuvres, MARGIN_S) & np.isfinite(heading + awa + twa)
    windows = _Windows.of(good)
    angle = windows.middle_deg(twa)
    series = {"awa": awa, "twa": twa, "heading": heading, "awd": heading + awa, "twd": heading + twa}
    wander = {name: windows.wander(values) for name, values in series.items()}
    helm = windows.wander(column(frame, rudder)) if rudder else None
    rows = windows.length
    return Steadiness(
        tuple(_classes(np.abs(angle), rows, wander, helm)),
        _compared("upwind", wander, (np.abs(angle) >= UPWIND[0]) & (np.abs(angle) < UPWIND[1])),
        _compared("downwind", wander, (np.abs(angle) > DOWNWIND[0]) & (np.abs(angle) <= DOWNWIND[1])),
        tuple(_yaw(angle, wander["heading"])),
        pilot,
        plotter,
        "" if len(rows) else "No five minutes under way without a turn.",
    )


def _lacking(frame: pd.DataFrame) -> str:
    """Say what there is too little of; "" where it is all there."""
    needed = {
        "heading_true_deg": "a heading",
        "awa_deg": "an apparent wind",
        "twa_water_deg": "a true wind (it needs wind, log and heading)",
    }
    lacking = next((words for name, words in needed.items() if name not in frame), "")
    if not len(frame):
        return f"{NO_ROWS.capitalize()}."
    return f"The recording lacks {lacking}." if lacking else ""


def _untold(name: str, windows: int = 0, reason: str = "") -> Comparison:
    return Comparison(name, windows, None, None, None, "", reason)


@dataclass(frozen=True)
class _Windows:
    """Windows of five minutes or a little less: ``rows`` beside each other, of which those ``inside`` count."""

    rows: Ints
    inside: Bools

    @classmethod
    def of(cls, good: Bools) -> "_Windows":
        """Cut the stretches of True; the last window of each ends with it."""
        edges = [
            (start, min(start + WINDOW_ROWS, last + 1))
            for first, last in spans(good)
            for start in range(first, last + 2 - LEAST_ROWS, WINDOW_ROWS)
        ]
        starts, ends = np.array(edges, dtype=np.int64).reshape(-1, 2).T
        rows = starts[:, None] + np.arange(WINDOW_ROWS)
        return cls(np.minimum(rows, max(len(good) - 1, 0)), rows < ends[:, None])

    @property
    def length(self) -> Ints:
        """Rows of each window."""
        return np.asarray(self.inside.sum(axis=1))

    def middle_deg(self, angle_deg: Floats) -> Floats:
        """Median of an unwrapped angle in each window, -180..180 deg."""
        if not len(self.rows):
            return np.empty(0)
        return wrap_signed_deg(np.nanmedian(np.where(self.inside, angle_deg[self.rows], np.nan), axis=1))

    def wander(self, values: Floats) -> Floats:
        """One-sigma about a straight line through each window; NaN where a value is unknown."""
        if not len(self.rows):
            return np.empty(0)
        count = self.length[:, None]
        time = np.where(self.inside, np.arange(WINDOW_ROWS) - (count - 1) / 2, 0.0)
        inside = np.where(self.inside, values[self.rows], 0.0)
        off = np.where(self.inside, inside - inside.sum(axis=1, keepdims=True) / count, 0.0)
        slope = (off * time).sum(axis=1, keepdims=True) / (time**2).sum(axis=1, keepdims=True)
        return np.asarray(np.sqrt(((off - time * slope) ** 2).sum(axis=1) / count[:, 0]))


def _smoothed_deg(angle_deg: Floats) -> Floats:
    """An angle unwrapped and averaged over ten seconds; NaN beside what is unknown."""
    known = np.isfinite(angle_deg)
    out = np.full(len(angle_deg), np.nan)
    out[known] = np.unwrap(angle_deg[known], period=360)
    return smoothed(out, SMOOTH_ROWS)


def _classes(
    angle: Floats, rows: np.ndarray, wander: dict[str, Floats], helm: Floats | None
) -> list[ByAngle]:
    found = []
    for low, high, name in CLASSES:
        on = (angle >= low) & ((angle < high) | (high == 180))
        if not on.any():
            continue
        told = {f"{key}_deg": float(np.sqrt(np.mean(one[on] ** 2))) for key, one in wander.items()}
        moved = helm[on][np.isfinite(helm[on])] if helm is not None else np.empty(0)
        found.append(
            ByAngle(
                name,
                float(low),
                float(high),
                int(on.sum()),
                float(rows[on].sum()) / 60,
                **told,
                rudder_deg=float(np.sqrt(np.mean(moved**2))) if moved.size else None,
            )
        )
    return found


def _compared(name: str, wander: dict[str, Floats], on: np.ndarray) -> Comparison:
    """Mean ratio over windows, by its logarithm, with Student's t."""
    ratio = np.log(np.maximum(wander["awd"][on], 1e-3) / np.maximum(wander["twd"][on], 1e-3))
    count = len(ratio)
    if count < LEAST_WINDOWS:
        return _untold(name, count, f"{count} of {LEAST_WINDOWS} windows of five minutes")
    memory = float(np.clip(np.corrcoef(ratio[1:], ratio[:-1])[0, 1], 0.0, 0.8)) if ratio.std() > 0 else 0.0
    alone = max(count * (1 - memory) / (1 + memory), 2.0)
    middle, sd = float(ratio.mean()), float(ratio.std(ddof=1)) / alone**0.5 * widening(alone - 1)
    half = SIGMAS_95 * sd
    steadier = "AWA" if middle + half < 0 else "TWA" if middle - half > 0 else ""
    low, mid, high = (float(np.exp(one)) for one in (middle - half, middle, middle + half))
    return Comparison(name, count, mid, low, high, steadier)


def _yaw(angle: Floats, wander: Floats) -> list[tuple[str, float, float]]:
    found = []
    for name, on in (("starboard", angle > 10), ("port", angle < -10)):
        if on.sum() >= 2:
            found.append((name, float(wander[on].mean()), float(wander[on].std(ddof=1) / on.sum() ** 0.5)))
    return found
