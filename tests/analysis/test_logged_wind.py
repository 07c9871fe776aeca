"""Each way a display may work out the true wind, on a boat that sails here: two hours, four courses, both tacks.

The display works from the sensors before they are printed, to 1 deg and 0.1 kn; its damping is of angle and speed.
Sizes are invented; what must come out is what was put in.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from analysis.calibration import Calibration
from analysis.logged_wind import LoggedWind, explain_logged_wind

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Change = Callable[..., dict[str, object]]

N = 7200
VARIATION_DEG = 7.0
NOTHING_KNOWN = Calibration({}, None, (), (), 0)


def toward(angle_deg: Floats | float) -> Complexes:
    return np.asarray(np.exp(1j * np.radians(angle_deg)), dtype=np.complex128)


def slow(rng: np.random.Generator, sd: float, memory_s: float) -> Floats:
    keep = np.exp(-1 / memory_s)
    return np.asarray(lfilter([sd * np.sqrt(1 - keep**2)], [1, -keep], rng.standard_normal(N)))


def smooth(values: Floats, time_s: float) -> Floats:
    keep = np.exp(-1 / time_s)
    return np.asarray(lfilter([1 - keep], [1, -keep], values, zi=[values[0] * keep])[0])


def sensors(seed: int, current_kn: float = 0.9) -> pd.DataFrame:
    """What vane, log, compass and GNSS show, with a log 6 % low and a vane 3 deg off: no matter of the display."""
    rng = np.random.default_rng(seed)
    course = np.select([np.arange(N) < edge for edge in (1800, 3600, 5400)], [45.0, -45.0, 110.0], -140.0)
    heading = 300 - smooth(course, 6) + slow(rng, 1.5, 7)
    stw = 6 + slow(rng, 0.4, 120)
    heel = -15 * np.sign(course) * (np.abs(course) < 90) + slow(rng, 2, 5)
    leeway = 8 * heel / stw**2
    water = stw * (1 + 1j * np.tan(np.radians(leeway))) * toward(heading)
    ground = water + current_kn * toward(60.0)
    wind = (14 + slow(rng, 1.2, 45)) * toward(300 + slow(rng, 5, 60))
    apparent = (wind + ground) * toward(-heading) * toward(slow(rng, 1, 3) - 3)
    return pd.DataFrame(
        {
            "awa_deg": np.angle(apparent, deg=True),
            "aws_kn": np.abs(apparent),
            "stw_kn": 0.94 * stw,
            "heading_true_deg": heading,
            "variation_deg": VARIATION_DEG,
            "heel_deg": heel,
            "sog_kn": np.abs(ground),
            "cog_deg": np.angle(ground, deg=True) % 360,
        },
        index=pd.date_range("2026-05-01T10:00", periods=N, freq="s", tz="UTC", name="time_utc"),
    )


def held(values: Floats, at: int) -> Floats:
    return np.where(np.arange(N) < at, values, values[at])


def logged(
    shown: pd.DataFrame,
    *,
    boat: Complexes | None = None,
    awa_deg: Floats | None = None,
    heading_deg: Floats | None = None,
    direction_off_deg: float = 0.0,
    speed_ratio: float = 1.0,
    late_s: int = 0,
    damping_s: float = 4.0,
) -> pd.DataFrame:
    """Add what the display shows and print everything as NMEA does."""
    heading = shown["heading_true_deg"].to_numpy() if heading_deg is None else heading_deg
    apparent = shown["aws_kn"].to_numpy() * toward(
        shown["awa_deg"].to_numpy() if awa_deg is None else awa_deg
    )
    if late_s:
        apparent = np.concatenate([np.full(late_s, apparent[0]), apparent[:-late_s]])
    wind = apparent - (shown["stw_kn"].to_numpy() if boat is None else boat)
    angle = np.degrees(np.unwrap(np.angle(wind)))
    printed = shown.assign(
        logged_twa_deg=(np.round(smooth(angle, damping_s)) + 180) % 360 - 180,
        logged_tws_kn=np.round(speed_ratio * smooth(np.abs(wind), damping_s), 1),
        logged_twd_deg=np.round(smooth(angle + heading, damping_s) + direction_off_deg) % 360,
    )
    steps = {
        "awa_deg": 1.0,
        "aws_kn": 0.1,
        "stw_kn": 0.1,
        "heading_true_deg": 1.0,
        "sog_kn": 0.1,
        "cog_deg": 1.0,
    }
    for name, step in steps.items():
        printed[name] = np.round(printed[name] / step) * step
    printed["heading_true_deg"] %= 360
    return printed


def over_ground(shown: pd.DataFrame) -> Complexes:
    return shown["sog_kn"].to_numpy() * toward((shown["cog_deg"] - shown["heading_true_deg"]).to_numpy())


def with_leeway(shown: pd.DataFrame) -> Complexes:
    leeway = 11 * shown["heel_deg"] / shown["stw_kn"] ** 2
    return np.asarray(shown["stw_kn"] * (1 + 1j * np.tan(np.radians(leeway))), dtype=np.complex128)


WAYS: dict[str, Change] = {
    "water": lambda s: {},
    "ground": lambda s: {"boat": over_ground(s)},
    "speed-over-ground": lambda s: {"boat": s["sog_kn"].to_numpy() + 0j},
    "leeway-taken-in": lambda s: {"boat": with_leeway(s)},
    "magnetic": lambda s: {"direction_off_deg": -VARIATION_DEG},
    "variation-twice": lambda s: {"direction_off_deg": VARIATION_DEG},
    "mirrored": lambda s: {"awa_deg": -s["awa_deg"].to_numpy()},
    "lag": lambda s: {"late_s": 9},
    "unit": lambda s: {"speed_ratio": 1852 / 3600},
    "frozen-log": lambda s: {"boat": held(s["stw_kn"].to_numpy(), 2400) + 1.5 * (np.arange(N) >= 2400)},
    "frozen-heading": lambda s: {"heading_deg": held(s["heading_true_deg"].to_numpy(), 1200)},
    "apparent-repeated": lambda s: {"boat": np.zeros(N)},
    "calibrated": lambda s: {"awa_deg": s["awa_deg"].to_numpy() + 6},
    "ground+magnetic": lambda s: {"boat": over_ground(s), "direction_off_deg": -VARIATION_DEG},
    "ground+unit": lambda s: {"boat": over_ground(s), "speed_ratio": 1.852},
}


def explained(frame: pd.DataFrame) -> LoggedWind:
    wind = explain_logged_wind(frame, NOTHING_KNOWN)
    assert wind is not None
    return wind


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("name", WAYS)
def test_the_way_that_was_taken_comes_first(name: str, seed: int) -> None:
    shown = sensors(seed)
    wind = explained(logged(shown, **WAYS[name](shown)))  # type: ignore[arg-type]
    assert set(wind.best.causes or ("water",)) == set(name.split("+"))
    assert wind.determined
    assert wind.best.explained > 0.5 or name == "water"
    assert wind.best.left_kn < 0.35


@pytest.mark.parametrize("name", ["ground", "mirrored", "unit", "magnetic"])
def test_a_log_with_the_direction_alone_tells_as_well(name: str) -> None:
    shown = sensors(3)
    frame = logged(shown, **WAYS[name](shown)).drop(columns="logged_twa_deg")  # type: ignore[arg-type]
    wind = explained(frame)
    assert wind.best.causes == (name,)
    assert not wind.angle_logged


def test_the_numbers_of_the_display_come_out() -> None:
    """6 deg on the vane, 9 s late on top of a damping of 4 s, stuck from 10:40 on: as put in above."""
    shown = sensors(4)
    turned = explained(logged(shown, **WAYS["calibrated"](shown))).best.numbers  # type: ignore[arg-type]
    assert turned["vane_offset_deg"] == pytest.approx(6, abs=0.3)
    assert turned["wind_speed_factor"] == pytest.approx(1, abs=0.02)
    late = explained(logged(shown, **WAYS["lag"](shown)))  # type: ignore[arg-type]
    assert late.lag_s == pytest.approx(13, abs=1.5)
    stuck = explained(logged(shown, **WAYS["frozen-heading"](shown))).best.numbers  # type: ignore[arg-type]
    since = pd.Timestamp(str(stuck["since_utc"]))
    assert abs(since - shown.index[1200]) < pd.Timedelta("3min")


@pytest.mark.parametrize("damping_s", [1.0, 4.0, 9.0])
def test_ordinary_damping_is_no_lag(damping_s: float) -> None:
    wind = explained(logged(sensors(5), damping_s=damping_s))
    assert wind.best.id == "water"
    assert wind.lag_s == pytest.approx(damping_s, abs=1.5)


def test_without_current_and_leeway_water_and_ground_are_not_told_apart() -> None:
    shown = sensors(6, current_kn=0)
    shown = shown.assign(sog_kn=shown["stw_kn"], cog_deg=shown["heading_true_deg"] % 360)
    wind = explained(logged(shown))
    assert wind.best.id == "water"
    assert not wind.determined
    assert "ground" in wind.untold


def test_a_log_without_true_wind_or_too_short_a_one_says_nothing() -> None:
    shown = sensors(7)
    assert explain_logged_wind(shown, NOTHING_KNOWN) is None
    assert explain_logged_wind(logged(shown).iloc[:60], NOTHING_KNOWN) is None
    assert explain_logged_wind(logged(shown).drop(columns="stw_kn"), NOTHING_KNOWN) is None


def test_drop_outs_and_gaps_do_not_matter() -> None:
    shown = sensors(8)
    frame = logged(shown, **WAYS["ground"](shown))  # type: ignore[arg-type]
    frame.iloc[500:700, frame.columns.get_loc("stw_kn")] = np.nan
    frame.iloc[3000:3060, frame.columns.get_loc("aws_kn")] = 0.0
    frame.iloc[100:140, frame.columns.get_loc("logged_tws_kn")] = np.nan
    assert explained(frame).best.id == "ground"
