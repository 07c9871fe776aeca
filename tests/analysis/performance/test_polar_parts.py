"""The parts of the polar: steady minutes, memory, what lasting errors do, the surface, cells, best angles, tacks."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from analysis.estimate import Estimate
from analysis.lasting import ALWAYS
from analysis.manoeuvres import Manoeuvres, Stop
from analysis.performance import (
    Minutes,
    PolarTable,
    Sailed,
    SensorErrors,
    compare,
    find_minutes,
    fit_surface,
    sailed_polar,
    sensor_errors,
)
from analysis.performance.memory import memory_of, worth
from analysis.performance.sensors import moved

NO_TURNS = Manoeuvres((), (), (), ())


def boat_speed(tws, twa):
    """A smooth invented boat: fastest on a reach, nothing into the wind."""
    turn = np.radians(np.abs(twa))
    return 8 * np.tanh(np.asarray(tws) / 11) * (1.25 * np.sin(0.62 * turn + 0.12) ** 0.8 - 0.22)


def steady_frame(minutes=10, tws=12.0, twa=60.0, stw=6.0, **columns):
    """A frame of one steady course, all readings even; ``columns`` are arrays or numbers put in its place."""
    count = 60 * minutes
    index = pd.date_range("2031-05-03T10:00", periods=count, freq="s", tz="UTC")
    values = {"stw_kn": stw, "tws_water_kn": tws, "twa_water_deg": twa, "heading_true_deg": 40.0} | columns
    return pd.DataFrame({name: np.broadcast_to(value, count) for name, value in values.items()}, index)


def still(frame):
    return Manoeuvres((), (), (), (), np.zeros(len(frame), dtype=bool))


def passage(count=1500, tack_gap=0.0, noise=0.08, seed=3, low=36.0, high=176.0):
    """Steady minutes all round, with white scatter; port tack slower by ``tack_gap`` kn."""
    rng = np.random.default_rng(seed)
    tws, twa = rng.uniform(7, 15, count), rng.uniform(low, high, count) * rng.choice([-1, 1], count)
    speed = boat_speed(tws, twa) + rng.normal(0, noise, count) - tack_gap * (twa < 0)
    return Minutes(60.0 * np.arange(count) + 30, tws, twa, speed, {})


@pytest.fixture(scope="module")
def sailed():
    minutes = passage()
    return Sailed(minutes, SensorErrors(), fit_surface(minutes))


def test_a_steady_minute_is_its_means():
    frame = steady_frame(leeway_deg=5.0)
    found = find_minutes(frame, still(frame))
    assert len(found.time_s) == 10 and not found.left_out
    np.testing.assert_allclose(found.tws_kn, 12.0)
    np.testing.assert_allclose(found.twa_deg, 60.0)
    # 6 / cos 5 deg, by hand: 6 / 0.9961947 = 6.02292
    np.testing.assert_allclose(found.speed_kn, 6.02292, atol=1e-5)
    assert found.time_s[0] == pd.Timestamp("2031-05-03T10:00:30Z").timestamp()


def reasons(frame, manoeuvres=None, running=None):
    found = find_minutes(frame, manoeuvres or still(frame), running)
    return len(found.time_s), dict(found.left_out)


def test_every_minute_left_out_says_why():
    row = np.arange(600)
    assert reasons(steady_frame(), running=row < 120) == (8, {"engine running": 2})
    assert reasons(steady_frame(stw_kn=np.where(row < 60, np.nan, 6.0))) == (9, {"no wind or no log": 1})
    assert reasons(steady_frame(stw_kn=6 + 1.2 * (row % 60) / 60)) == (
        0,
        {"speed or wind uneven": 10},
    )  # 0.6 kn in half a minute
    assert reasons(steady_frame(twa=15.0)) == (0, {"not by the wind": 10})
    assert reasons(steady_frame(tws=3.0)) == (0, {"not by the wind": 10})  # 6 kn in 3 kn of wind
    pounded = np.where(row == 90, 1.0, 6.0)
    assert reasons(steady_frame(stw_kn=pounded)) == (9, {"speed or wind uneven": 1})
    frame = steady_frame()
    stop = Stop(frame.index[0], frame.index[179], 180.0)
    assert reasons(frame, Manoeuvres((), (), (), (stop,), np.zeros(600, dtype=bool))) == (7, {"at rest": 3})


def test_a_turn_and_the_minute_after_it_are_left_out():
    frame = steady_frame()
    turns = np.zeros(600, dtype=bool)
    turns[125:140] = (
        True  # in the third minute: that one and the fourth are lost, to 1 min after the turn's end
    )
    assert reasons(frame, Manoeuvres((), (), (), (), turns)) == (8, {"turning": 2})


def test_a_frame_that_lacks_a_sensor_makes_no_polar():
    frame = steady_frame().drop(columns="stw_kn")
    polar = sailed_polar(frame, still(frame), {})
    assert polar.sailed is None and "no speed through the water" in polar.why
    assert sailed_polar(steady_frame(), still(steady_frame()), {}).why.startswith(
        "10 minutes of steady sailing"
    )
    assert sailed_polar(frame.iloc[:0], NO_TURNS, {}).sailed is None


def test_memory_of_an_autoregressive_series():
    rng = np.random.default_rng(1)
    noise, value = rng.normal(size=20_000), np.zeros(20_000)
    for at in range(1, len(value)):
        value[at] = 0.6 * value[at - 1] + noise[at]
    number = np.arange(len(value))
    memory = memory_of(number, value)
    # of an AR(1) with 0.6: 0.6, 0.36, 0.216 …; n values are worth n (1 - 0.6) / (1 + 0.6) (textbook)
    np.testing.assert_allclose(memory[:3], [0.6, 0.36, 0.216], atol=0.03)
    assert worth(number, memory) == pytest.approx(20_000 * 0.4 / 1.6, rel=0.1)
    assert worth(number[::100], memory) == 200  # minutes far apart are each worth one
    assert len(memory_of(number, rng.normal(size=20_000))) == 0


def test_lasting_errors_move_a_point_as_the_triangle_says():
    errors = SensorErrors(log_share=0.1, wind_share=0.1, vane_deg=3.0)
    to = moved(errors, np.array([12.0]), np.array([90.0]), np.array([6.0]))
    # beam wind 12, boat 6: apparent 6 + 12i. Log + 0.6 kn: wind -0.6 + 12i
    assert to.tws_kn[0, 0] == pytest.approx(np.hypot(0.6, 12) - 12)
    assert to.twa_deg[0, 0] == pytest.approx(np.degrees(np.arctan(0.6 / 12)))
    # AWS + 10 %: 6.6 + 13.2i less 6
    assert to.tws_kn[1, 0] == pytest.approx(np.hypot(0.6, 13.2) - 12)
    assert to.twa_deg[1, 0] == pytest.approx(-np.degrees(np.arctan(0.6 / 13.2)))
    port = moved(errors, np.array([12.0]), np.array([-90.0]), np.array([6.0]))
    assert port.twa_deg[2, 0] < 0 < to.twa_deg[2, 0]  # a vane turned to starboard parts the tacks


def test_what_the_corrections_leave():
    known = {
        "log_factor": Estimate(1.05, 0.003, "1", True),
        "vane_offset_deg": Estimate(4.0, 3.0, "deg", False),
    }
    errors = sensor_errors(known, leeway_known=True)
    assert errors.log_share == pytest.approx(np.hypot(0.003, ALWAYS.log_share))
    # hypot(4, 3) = 5: it may amount to all of it
    assert errors.vane_deg == pytest.approx(np.hypot(5, ALWAYS.vane_deg))


def test_cells_and_surface_hold_the_boat(sailed):
    cells, grid = sailed.cells["both"], sailed.grid
    known = np.isfinite(cells.median_kn)
    assert known.sum() > 40 and cells.minutes.sum() <= 1500
    tws, twa = np.meshgrid(grid.tws_kn, grid.twa_deg)
    off = (cells.median_kn - boat_speed(tws, twa))[known] / cells.median_kn_sd[known]
    assert np.mean(np.abs(off) < 1.96) >= 0.9
    # nine in ten of normal scatter of 0.08 kn stay below 1.2816 of it
    assert np.nanmean(cells.upper_kn - cells.median_kn) == pytest.approx(0.08 * 1.2816, rel=0.25)
    smooth = sailed.smooth
    tws, twa = np.meshgrid(smooth.grid.tws_kn, smooth.grid.twa_deg)
    told = np.isfinite(smooth.speed_kn)
    assert np.abs(smooth.speed_kn - boat_speed(tws, twa))[told].max() < 0.2
    assert cells.minutes.sum() == sailed.cells["starboard"].minutes.sum() + sailed.cells["port"].minutes.sum()


def test_more_wind_is_never_slower_up_to_sixteen_knots():
    minutes = passage(count=200, noise=0.6)
    surface = fit_surface(minutes)
    for angle in (45.0, 90.0, 150.0):
        speeds = surface.speed_kn(np.arange(6.0, 15.6, 0.5), np.full(20, angle))
        assert (np.diff(speeds) > -0.02).all()


def test_best_angles_are_told_where_they_are_bracketed(sailed):
    angles = np.arange(25, 180, 0.1)
    upwind = next(one for one in sailed.best if one.upwind and one.tws_kn == 10)
    true = angles[np.argmax(boat_speed(10.0, angles) * np.cos(np.radians(angles)))]
    assert abs(upwind.twa_deg - true) < 1.96 * upwind.twa_deg_sd + 0.5
    assert upwind.vmg_kn == pytest.approx(boat_speed(10.0, true) * np.cos(np.radians(true)), abs=0.1)
    minutes = passage(low=60.0)
    narrow = Sailed(minutes, SensorErrors(), fit_surface(minutes))
    none = next(one for one in narrow.best if one.upwind and one.tws_kn == 10)
    assert (
        none.twa_deg is None
        and none.why == "not sailed past the best angle: sail closer in this wind as well"
    )


def test_a_tack_that_is_slower_is_told():
    alike = passage()
    for one in Sailed(alike, SensorErrors(), fit_surface(alike)).tacks:
        assert abs(one.speed_kn) < 3 * one.speed_kn_sd
    apart = passage(tack_gap=0.4)
    for one in Sailed(apart, SensorErrors(), fit_surface(apart)).tacks:
        assert one.speed_kn == pytest.approx(0.4, abs=3 * one.speed_kn_sd)
        assert one.speed_kn_sd < 0.05
    blurred = Sailed(apart, SensorErrors(vane_deg=5.0), fit_surface(apart)).tacks[0]
    assert blurred.speed_kn_sd > 0.3  # a vane that may be turned explains as much


def test_against_a_table(sailed):
    angles, winds = np.arange(30.0, 181, 10), np.arange(6.0, 17, 2)
    tws, twa = np.meshgrid(winds, angles)
    table = PolarTable(angles, winds, boat_speed(tws, twa) * np.where(twa > 90, 1.25, 0.8))
    cells = sailed.cells["both"]
    against = compare(sailed.minutes, sailed.surface, SensorErrors(), sailed.grid, cells, table)
    running = np.abs(sailed.minutes.twa_deg) > 100
    assert np.nanmean(against.percent[running]) == pytest.approx(80, abs=2)
    assert {one.twa_deg > 90 for one in against.unreachable} == {True}
    assert {one.twa_deg > 90 for one in against.beaten} == {False}
    own = sailed.against
    assert not own.imported and own.mean_percent == pytest.approx(100, abs=1) and not own.beaten


def test_a_table_is_led_between_its_points():
    table = PolarTable(np.array([40.0, 60.0]), np.array([6.0, 10.0]), np.array([[3.0, 5.0], [4.0, np.nan]]))
    at = [(6, 40), (8, -40), (6, 50), (3, 40), (10, 50), (6, 39), (10.1, 40)]
    found = table.speed_at(*(np.array(one, dtype=float) for one in zip(*at, strict=True)))
    np.testing.assert_allclose(found, [3, 4, 3.5, 1.5, np.nan, np.nan, np.nan])


def test_the_note_on_tacks_waits_for_more_than_chance_and_vane():
    from analysis.findings.polar import tacks_differ

    def told(gap, **estimates):
        minutes = passage(tack_gap=gap)
        sailed = Sailed(minutes, SensorErrors(), fit_surface(minutes))
        case = SimpleNamespace(
            polar=SimpleNamespace(sailed=sailed), calibration=SimpleNamespace(estimates=estimates)
        )
        return list(tacks_differ(case))

    assert told(0.0) == []
    (note,) = told(0.4)
    assert note.severity == "note" and "more on starboard tack than on port" in note.title
    assert told(0.4, vane_offset_deg=Estimate(4.0, 0.5, "deg", True)) == []
