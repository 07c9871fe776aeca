"""The methods crews trust, beside the joint estimate: runs to and fro, and the swing of the compass.

Each takes its readings and returns one frozen result: value, one-sigma, unit, what was used and what rejected.
"""

from dataclasses import dataclass
from math import comb

import numpy as np
import pandas as pd

from analysis.calibration.blocks import RAD
from analysis.calibration.results import Floats
from analysis.errors import SettingError
from analysis.manoeuvres import MarkRun, Runs, Turn
from analysis.passage import column

LEAST_HEADINGS = 5
COMPANY_NM = 1.0
COMPANY_CURRENT_KN = 0.1  # by which the current of two boats a mile apart differs (judgment)
LEAST_MINUTES = 5
STEADY_BOW = 0.97  # mean length of the heading's unit vector over a minute
MEAN_ROWS = 10
TOO_FEW_SD_KN = 0.05  # of one run's mean speed where its own scatter cannot tell (judgment)


@dataclass(frozen=True)
class RunsResult:
    """Log factor from runs: ``true = value x shown``. ``speed_kn`` is the mean of means over the ground.

    ``current_kn`` is the current along the first run at each run, as the runs themselves show it.
    """

    value: float
    sd: float
    unit: str
    speed_kn: float
    current_kn: Floats
    used: int
    rejected: dict[str, int]


@dataclass(frozen=True)
class DeviationCard:
    """Coefficients A to E [deg] with covariance, and how well they fit: true = compass + deviation."""

    coefficients_deg: tuple[float, float, float, float, float]
    covariance: Floats
    rms_residual_deg: float
    used: int
    rejected: dict[str, int]

    def at(self, compass_deg: Floats) -> Floats:
        """Deviation [deg] on compass headings [deg]."""
        return np.asarray(_harmonics(compass_deg) @ np.asarray(self.coefficients_deg))

    def sd_at(self, compass_deg: Floats) -> Floats:
        """One-sigma [deg] of the card on compass headings [deg]."""
        shapes = _harmonics(compass_deg)
        return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", shapes, self.covariance, shapes)))

    def table(self, step_deg: int = 15) -> pd.DataFrame:
        """Return the card: ``compass_deg``, ``deviation_deg``, ``deviation_deg_sd`` every ``step_deg``."""
        heading = np.arange(0, 360, step_deg, dtype=float)
        return pd.DataFrame(
            {
                "compass_deg": heading,
                "deviation_deg": self.at(heading),
                "deviation_deg_sd": self.sd_at(heading),
            }
        )


def mean_of_means_weights(count: int) -> Floats:
    """Weights of evenly spaced runs in alternating directions: binomial, 2 to 6 runs.

    They remove exactly a current that is a polynomial in time of degree count - 2. After E. C. Tupper,
    Introduction to Naval Architecture, ch. Propulsion. Raises SettingError for another count.
    """
    if not 2 <= count <= 6:
        raise SettingError(
            f"{count} runs were given; a mean of means takes 2 to 6 in alternating directions."
        )
    return np.array([comb(count - 1, i) for i in range(count)]) / 2.0 ** (count - 1)


def mean_of_means(speed_kn: Floats) -> float:
    """Average the speeds (not the times) of runs in alternating directions, repeatedly pair by pair."""
    speed = np.asarray(speed_kn, dtype=float)
    return float(mean_of_means_weights(len(speed)) @ speed)


def log_factor_from_speeds(
    ground_kn: Floats, shown_kn: Floats, run_sd_kn: float = TOO_FEW_SD_KN
) -> RunsResult:
    """Find the log factor from speeds over the ground along each run, and the log's mean over it.

    Where the log differed between runs the ratio of the weighted means holds. ``run_sd_kn`` is the one-sigma
    of one run's speed over the ground less the log's. Raises SettingError for unlike lengths or a dead log.
    """
    ground, shown = np.asarray(ground_kn, dtype=float), np.asarray(shown_kn, dtype=float)
    if ground.shape != shown.shape:
        raise SettingError(
            f"{ground.size} speeds over the ground came with {shown.size} of the log; give one of each per run."
        )
    weights = mean_of_means_weights(len(ground))
    log = float(weights @ shown)
    if not log > 0:
        raise SettingError(f"The log showed {log:g} kn over the runs; it must turn to be calibrated.")
    speed = float(weights @ ground)
    sign = (-1.0) ** np.arange(len(ground))
    return RunsResult(
        value=speed / log,
        sd=float(run_sd_kn * np.sqrt(np.sum(weights**2)) / log),
        unit="1",
        speed_kn=speed,
        current_kn=sign * (ground - speed / log * shown),
        used=len(ground),
        rejected={},
    )


def log_factor_from_runs(frame: pd.DataFrame, runs: Runs) -> RunsResult:
    """Find the log factor from reciprocal runs of a frame, speeds taken along each run's own heading.

    The one-sigma comes from the scatter of SOG less STW along the runs, in means of a minute.
    """
    ground, shown, scatter = [], [], []
    for leg in runs.legs:
        rows = frame.loc[leg.start : leg.end]
        bow = np.exp(-1j * RAD * leg.heading_deg)
        along = np.real(column(rows, "sog_kn") * np.exp(1j * RAD * column(rows, "cog_deg")) * bow)
        stw = column(rows, "stw_kn")
        if not np.isfinite(along).any() or not np.isfinite(stw).any():
            raise SettingError(
                "A run lacks the log or the speed over the ground; choose runs that have both."
            )
        ground.append(float(np.nanmean(along)))
        shown.append(float(np.nanmean(stw)))
        minutes = pd.Series(along - stw).groupby(np.arange(len(rows)) // 60).mean().dropna()
        if len(minutes) > 2:
            # neighbouring minutes are not independent: half of them count
            scatter.append(float(np.std(minutes, ddof=1) / np.sqrt(len(minutes) / 2)))
    run_sd = max(float(np.sqrt(np.mean(np.square(scatter)))), 0.01) if scatter else TOO_FEW_SD_KN
    return log_factor_from_speeds(np.array(ground), np.array(shown), run_sd)


def log_factor_from_marks(frame: pd.DataFrame, runs: tuple[MarkRun, ...]) -> RunsResult:
    """Find the log factor from runs over a measured distance, the last 2 to 6 in alternating directions.

    Speed is distance by time on each run; the speeds are averaged, never the times. Runs in the same
    direction as their predecessor, or without the log, are rejected and counted.
    """
    kept: list[tuple[int, float, float]] = []
    rejected = {"same direction": 0, "no log": 0, "more than six": 0}
    for run in runs:
        stw = column(frame.loc[run.start : run.end], "stw_kn")
        if kept and kept[-1][0] == run.direction:
            rejected["same direction"] += 1
        elif not np.isfinite(stw).any():
            rejected["no log"] += 1
        else:
            hours = (run.end - run.start).total_seconds() / 3600
            kept.append((run.direction, run.distance_nm / hours, float(np.nanmean(stw))))
    rejected["more than six"] = max(len(kept) - 6, 0)
    _, ground, shown = zip(*kept[-6:], strict=True) if kept else ((), (), ())
    found = log_factor_from_speeds(np.array(ground), np.array(shown))
    return RunsResult(**(vars(found) | {"rejected": {k: n for k, n in rejected.items() if n}}))


def log_factor_from_company(frame: pd.DataFrame, company: pd.DataFrame) -> RunsResult:
    """Find the log factor against a vessel in company whose log and compass are right.

    Both float in one current, so the own velocity through the water is the company's plus the difference of the
    velocities over the ground: f * STW along the own heading. Both frames are aligned in time, at 1 s; minutes more
    than ``COMPANY_NM`` apart, with either boat turning or at rest, do not count. The one-sigma holds the scatter
    of the minutes and the difference of current between the boats. Raises SettingError where too few minutes
    are left.
    """
    both = frame.join(company.add_suffix("_company"), how="inner")
    ours, theirs = _velocities(both, ""), _velocities(both, "_company")
    bow = np.exp(1j * RAD * column(both, "heading_true_deg"))
    stw = column(both, "stw_kn")
    through = np.real((theirs[1] + ours[0] - theirs[0]) * np.conj(bow))
    apart = 60 * np.hypot(
        column(both, "lat_deg") - column(both, "lat_deg_company"),
        np.cos(RAD * column(both, "lat_deg")) * (column(both, "lon_deg") - column(both, "lon_deg_company")),
    )
    rows = pd.DataFrame(
        {"through": through, "stw": stw, "bow_n": bow.real, "bow_e": bow.imag, "apart": apart}
    )
    minutes = rows.groupby(np.arange(len(rows)) // 60).mean()
    steady = np.hypot(minutes["bow_n"], minutes["bow_e"]) > STEADY_BOW
    known = minutes.notna().all(axis=1)
    use = known & steady & (minutes["apart"] < COMPANY_NM) & (minutes["stw"] > 1)
    if use.sum() < LEAST_MINUTES:
        raise SettingError(
            f"{use.sum()} minutes of both recordings lie within {COMPANY_NM:g} nm of each other under way; "
            f"{LEAST_MINUTES} are needed."
        )
    seen, shown = minutes["through"][use].to_numpy(), minutes["stw"][use].to_numpy()
    factor = float(seen @ shown / (shown @ shown))
    scatter = float(np.std(seen - factor * shown, ddof=1) / np.sqrt(use.sum() / 2))
    mean = float(shown.mean())
    lost = {
        "missing": int((~known).sum()),
        "turning or at rest": int((known & ~(steady & (minutes["stw"] > 1))).sum()),
        "too far apart": int((known & (minutes["apart"] >= COMPANY_NM)).sum()),
    }
    return RunsResult(
        value=factor,
        sd=float(np.hypot(scatter, COMPANY_CURRENT_KN) / mean),
        unit="1",
        speed_kn=float(seen.mean()),
        current_kn=np.real(ours[0] - factor * ours[1]),
        used=int(use.sum()),
        rejected={reason: n for reason, n in lost.items() if n},
    )


def _velocities(both: pd.DataFrame, whose: str) -> tuple[np.ndarray, np.ndarray]:
    """Velocity over the ground and through the water as shown [kn, north + i east]."""
    over = column(both, f"sog_kn{whose}") * np.exp(1j * RAD * column(both, f"cog_deg{whose}"))
    through = column(both, f"stw_kn{whose}") * np.exp(1j * RAD * column(both, f"heading_true_deg{whose}"))
    return over, through


def deviation_by_handbook(deviation_deg: Floats) -> tuple[float, float, float, float, float]:
    """Find A to E [deg] from deviations on compass N, NE, E, SE, S, SW, W, NW by the adjuster's rule.

    NGA, Handbook of Magnetic Compass Adjustment (2004), ch. V. Raises SettingError unless eight are given.
    """
    deviation = np.asarray(deviation_deg, dtype=float)
    if deviation.shape != (8,):
        raise SettingError(
            f"{deviation.size} deviations were given; the rule takes eight, from N every 45 deg."
        )
    n, ne, e, se, s, sw, w, nw = deviation.tolist()
    return (
        float(deviation.mean()),
        (e - w) / 2,
        (n - s) / 2,
        (ne - se + sw - nw) / 4,
        (n - e + s - w) / 4,
    )


def deviation_by_least_squares(compass_deg: Floats, deviation_deg: Floats) -> DeviationCard:
    """Fit A to E to deviations [deg] seen on compass headings [deg]; missing pairs are rejected and counted.

    Raises SettingError where fewer than five pairs are left.
    """
    compass, deviation = np.asarray(compass_deg, dtype=float), np.asarray(deviation_deg, dtype=float)
    known = np.isfinite(compass) & np.isfinite(deviation)
    used = int(known.sum())
    if used < LEAST_HEADINGS:
        raise SettingError(f"{used} deviations are known; five coefficients take at least five headings.")
    shapes = _harmonics(compass[known])
    answer, _, rank, _ = np.linalg.lstsq(shapes, deviation[known], rcond=None)
    if rank < LEAST_HEADINGS:
        raise SettingError(
            "The headings lie too close together to tell five coefficients apart; swing wider."
        )
    residual = deviation[known] - shapes @ answer
    variance = float(residual @ residual) / max(used - LEAST_HEADINGS, 1)
    a, b, c, d, e = answer.tolist()
    lost = len(compass) - used
    return DeviationCard(
        (a, b, c, d, e),
        np.asarray(variance * np.linalg.inv(shapes.T @ shapes)),
        float(np.sqrt(np.mean(residual**2))),
        used,
        {"missing": lost} if lost else {},
    )


def swing(frame: pd.DataFrame, turn: Turn) -> DeviationCard:
    """Swing the compass on a full turn against the motion over the ground.

    Solves for boat speed (in proportion to STW where logged), a steady current and A to E together, on means
    of 10 s. Speed and current come with it, so the turn need not be in still water; leeway turns with the wind
    and would be read as B and C, so swing upright under engine. Raises SettingError where
    the turn is not a full one or too much of it is missing.
    """
    if turn.kind != "full turn":
        raise SettingError(f"A {turn.kind} was given; the compass is swung on a full turn.")
    rows = frame.loc[turn.start : turn.end]
    variation = np.nan_to_num(column(rows, "variation_deg"))
    bow = np.exp(1j * RAD * column(rows, "heading_true_deg"))
    speed = column(rows, "stw_kn") if "stw_kn" in rows else np.ones(len(rows))
    ground = column(rows, "sog_kn") * np.exp(1j * RAD * column(rows, "cog_deg"))
    whole = len(rows) // MEAN_ROWS * MEAN_ROWS

    def mean(values: np.ndarray) -> np.ndarray:
        return np.asarray(values[:whole].reshape(-1, MEAN_ROWS).mean(axis=1))

    keel, over = mean(speed * bow), mean(ground)
    compass = np.angle(mean(bow * np.exp(-1j * RAD * variation)), deg=True)
    known = np.isfinite(keel) & np.isfinite(over) & np.isfinite(compass)
    if known.sum() < 2 * LEAST_HEADINGS:
        raise SettingError(
            f"Only {10 * known.sum()} s of the turn hold heading, COG and SOG; 100 s are needed."
        )
    keel, over, shapes = keel[known], over[known], _harmonics(compass[known])
    ones = np.ones(len(keel))
    theta = np.zeros(8)
    theta[0] = np.mean(np.abs(over)) / np.mean(np.abs(keel))
    for _ in range(20):
        water = theta[0] * keel * np.exp(1j * RAD * (shapes @ theta[3:]))
        jacobian = np.column_stack((water / theta[0], ones, 1j * ones, 1j * RAD * water[:, None] * shapes))
        stacked = np.vstack((jacobian.real, jacobian.imag))
        off = over - water - theta[1] - 1j * theta[2]
        residual = np.concatenate((off.real, off.imag))
        step = np.linalg.lstsq(stacked, residual, rcond=None)[0]
        theta = theta + step
        if np.abs(step).max() < 1e-9:
            break
    # neighbouring means hang together: a first-order memory leaves (1 - r) / (1 + r) of them independent
    memory = float(np.clip(np.real(np.vdot(off[:-1], off[1:])) / np.vdot(off, off).real, 0.0, 0.8))
    variance = float(residual @ residual) / (len(residual) - len(theta)) * (1 + memory) / (1 - memory)
    covariance = variance * np.linalg.inv(stacked.T @ stacked)
    # seen as deviations: across-boat misfit by speed
    across = np.imag(off / water) / RAD
    a, b, c, d, e = theta[3:].tolist()
    lost = int((~known).sum())
    return DeviationCard(
        (a, b, c, d, e),
        covariance[3:, 3:],
        float(np.sqrt(np.mean(across**2))),
        int(known.sum()),
        {"missing": lost} if lost else {},
    )


def _harmonics(compass_deg: Floats) -> Floats:
    h = RAD * np.asarray(compass_deg, dtype=float)
    return np.column_stack((np.ones_like(h), np.sin(h), np.cos(h), np.sin(2 * h), np.cos(2 * h)))
