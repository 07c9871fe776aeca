"""From aligned sensors to true heading, leeway, true wind and current. Expected numbers are hand calculations
unless said otherwise; the triangles themselves are tested in test_vectors.py and tests/published."""

import numpy as np
import pandas as pd
import pytest

from analysis.derive import Leeway, derive, mean_current, true_heading

COUNT = 30
INDEX = pd.date_range("2026-06-03T10:00:00Z", periods=COUNT, freq="s", name="time_utc")
OPEN_SEA = {"lat_deg": 33.0, "lon_deg": -20.0}
# World Magnetic Model 2025 at 33 N 20 W in June 2026, from the model itself: pygeomag 1.1 gives -4.7 deg.
MODEL_DEG = -4.7


def frame(**columns: float | np.ndarray) -> pd.DataFrame:
    return pd.DataFrame(
        {name: np.broadcast_to(value, COUNT) for name, value in columns.items()}, index=INDEX, dtype=float
    )


def some(values: dict[int, float]) -> np.ndarray:
    """NaN but for the given rows."""
    column = np.full(COUNT, np.nan)
    for row, value in values.items():
        column[row] = value
    return column


SAILING = {
    "awa_deg": 30.0,
    "aws_kn": 18.0,
    "stw_kn": 6.0,
    "heading_true_deg": 40.0,
    "sog_kn": 6.5,
    "cog_deg": 30.0,
}


def test_a_magnetic_heading_becomes_true_by_the_logs_variation() -> None:
    got, facts = true_heading(frame(heading_mag_deg=2.0, variation_deg=-4.0, **OPEN_SEA))
    np.testing.assert_allclose(got["heading_true_deg"], 358.0)
    np.testing.assert_allclose(got["variation_deg"], -4.0)
    assert facts == []


def test_variation_is_carried_between_and_beyond_its_readings() -> None:
    got, _ = true_heading(frame(heading_mag_deg=100.0, variation_deg=some({10: 3.0, 20: 4.0})))
    wanted = np.interp(np.arange(COUNT), [10, 20], [3.0, 4.0])
    np.testing.assert_allclose(got["variation_deg"], wanted)
    np.testing.assert_allclose(got["heading_true_deg"], 100 + wanted)


def test_without_variation_in_the_log_the_model_gives_it() -> None:
    got, facts = true_heading(frame(heading_mag_deg=100.0, **OPEN_SEA))
    np.testing.assert_allclose(got["variation_deg"], MODEL_DEG, atol=0.05)
    np.testing.assert_allclose(got["heading_true_deg"], 100 + MODEL_DEG, atol=0.05)
    assert facts == []


@pytest.mark.parametrize(
    ("logged_deg", "noted", "used_deg"), [(-4.0, False, -4.0), (-2.7, True, -2.7), (4.7, True, MODEL_DEG)]
)
def test_variation_that_differs_from_the_model(logged_deg: float, noted: bool, used_deg: float) -> None:
    """Above 1 deg it is a fact, above 5 deg (here: the wrong sign) the model is used."""
    got, facts = true_heading(frame(heading_mag_deg=100.0, variation_deg=logged_deg, **OPEN_SEA))
    np.testing.assert_allclose(got["variation_deg"], used_deg, atol=0.05)
    assert [fact.id for fact in facts] == ["variation-differs"] * noted
    if noted:
        assert facts[0].numbers["logged_deg"] == pytest.approx(logged_deg)
        assert facts[0].numbers["model_deg"] == pytest.approx(MODEL_DEG, abs=0.05)


def test_a_heading_logged_as_true_is_taken_where_the_magnetic_one_is_thin() -> None:
    got, _ = true_heading(frame(heading_true_deg=50.0, heading_mag_deg=some({3: 60.0}), variation_deg=-4.0))
    np.testing.assert_allclose(got["heading_true_deg"], 50.0)


def test_the_magnetic_heading_rules_where_both_are_full() -> None:
    got, _ = true_heading(frame(heading_true_deg=50.0, heading_mag_deg=60.0, variation_deg=-4.0))
    np.testing.assert_allclose(got["heading_true_deg"], 56.0)


def test_the_heading_logged_as_true_rules_where_it_was_asked_for() -> None:
    both = frame(heading_true_deg=50.0, heading_mag_deg=60.0, variation_deg=-4.0)
    got, _ = true_heading(both, as_logged=True)
    np.testing.assert_allclose(got["heading_true_deg"], 50.0)
    got, _ = true_heading(both.drop(columns="heading_true_deg"), as_logged=True)
    np.testing.assert_allclose(got["heading_true_deg"], 56.0)


def test_without_heading_or_position_nothing_is_made_up() -> None:
    got, facts = true_heading(frame(stw_kn=5.0))
    assert list(got) == ["stw_kn"]
    assert facts == []
    got, _ = true_heading(frame(heading_mag_deg=100.0))
    assert "heading_true_deg" not in got
    assert derive(got).columns.tolist() == ["heading_mag_deg"]


def test_an_empty_frame_stays_empty() -> None:
    empty = pd.DataFrame(index=INDEX[:0])
    got, facts = true_heading(empty)
    assert derive(got, Leeway(9.0, 1.0)).empty
    assert facts == []


def test_nothing_is_changed_in_place() -> None:
    given = frame(heading_mag_deg=100.0, variation_deg=-4.0, **OPEN_SEA)
    before = given.copy()
    settled, _ = true_heading(given)
    derive(settled)
    pd.testing.assert_frame_equal(given, before)


def test_what_is_derived_without_leeway() -> None:
    """Wind case: AWA 30, AWS 18, STW 6 along 040. By hand, from the bow: 18 cos 30 - 6 = 9.588, 18 sin 30 = 9."""
    got = derive(frame(**SAILING))
    tws, twa = np.hypot(9.5885, 9.0), np.degrees(np.arctan2(9.0, 9.5885))
    np.testing.assert_allclose(got["tws_water_kn"], tws, atol=1e-3)
    np.testing.assert_allclose(got["twa_water_deg"], twa, atol=1e-2)
    np.testing.assert_allclose(got["twd_water_deg"], 40 + twa, atol=1e-2)
    np.testing.assert_allclose(got["vmg_kn"], 6 * np.cos(np.radians(twa)), atol=1e-3)
    # current: over the ground 6.5 along 030 (east 3.25, north 5.6292) less 6 along 040 (3.8567, 4.5963)
    np.testing.assert_allclose(got["drift_kn"], np.hypot(3.25 - 3.8567, 5.6292 - 4.5963), atol=1e-3)
    np.testing.assert_allclose(got["set_deg"], np.degrees(np.arctan2(-0.6067, 1.0329)) % 360, atol=0.02)
    assert "leeway_deg" not in got


def test_the_two_winds_differ_by_the_current() -> None:
    got = derive(frame(**SAILING))

    def motion(speed: str, direction: str) -> complex:
        return complex(got[speed].iloc[0] * np.exp(1j * np.radians(got[direction].iloc[0])))

    over_water, over_ground = (
        motion("tws_water_kn", "twd_water_deg"),
        motion("tws_ground_kn", "twd_ground_deg"),
    )
    assert -over_ground == pytest.approx(-over_water + motion("drift_kn", "set_deg"), abs=1e-9)


def test_every_derived_value_but_vmg_has_its_one_sigma() -> None:
    got = derive(frame(**SAILING, heel_deg=-12.0), Leeway(9.0, 1.0))
    new = [name for name in got if name not in SAILING and name != "heel_deg" and not name.endswith("_sd")]
    assert {f"{name}_sd" for name in new} - set(got) == {"vmg_kn_sd"}
    assert all((got[f"{name}_sd"] > 0).all() for name in new if name != "vmg_kn")


def test_leeway_by_its_coefficient() -> None:
    """k heel / STW^2 = 9 x -12 / 36 = -3: heeled to port on a wind from starboard, set to port."""
    got = derive(frame(**SAILING, heel_deg=-12.0), Leeway(9.0, 1.0))
    np.testing.assert_allclose(got["leeway_deg"], -3.0)
    without = derive(frame(**SAILING, heel_deg=-12.0))
    assert "leeway_deg" not in without
    assert (
        got["twd_water_deg_sd"] < without["twd_water_deg_sd"]
    ).all()  # a known leeway leaves less in doubt
    water = 6 / np.cos(np.radians(3.0))
    east, north = 3.25 - water * np.sin(np.radians(37)), 5.6292 - water * np.cos(np.radians(37))
    np.testing.assert_allclose(got["drift_kn"], np.hypot(east, north), atol=1e-3)


def test_leeway_of_zero_is_known_leeway() -> None:
    got = derive(frame(**SAILING, heel_deg=-12.0), Leeway(0.0, 0.0))
    np.testing.assert_array_equal(got["leeway_deg"], 0.0)


@pytest.mark.parametrize(
    ("missing", "lost", "left"),
    [
        ("awa_deg", {"twd_water_deg", "twd_ground_deg", "vmg_kn"}, {"set_deg"}),
        ("stw_kn", {"twd_water_deg", "set_deg"}, {"twd_ground_deg"}),
        ("sog_kn", {"twd_ground_deg", "set_deg"}, {"twd_water_deg"}),
        ("heading_true_deg", {"twd_water_deg", "twd_ground_deg", "set_deg"}, set()),
    ],
)
def test_a_missing_sensor_takes_away_only_what_hangs_on_it(
    missing: str, lost: set[str], left: set[str]
) -> None:
    columns = {name: value for name, value in SAILING.items() if name != missing}
    got = set(derive(frame(**columns)))
    assert not got & lost
    assert got >= left


def test_missing_in_missing_out_row_by_row() -> None:
    holed = np.where(np.arange(COUNT) % 3 == 0, np.nan, 6.0)
    got = derive(frame(**(SAILING | {"stw_kn": holed})))
    for name in (
        "twd_water_deg",
        "tws_water_kn",
        "set_deg",
        "drift_kn",
        "drift_kn_sd",
        "twd_water_deg_sd",
        "vmg_kn",
    ):
        assert (got[name].isna().to_numpy() == np.isnan(holed)).all(), name
    assert got["twd_ground_deg"].notna().all()


def test_a_boat_at_rest_needs_no_course() -> None:
    """Receivers leave COG blank at rest: the wind over the ground is then the apparent wind."""
    still = SAILING | {"sog_kn": 0.0, "stw_kn": 0.0, "cog_deg": np.nan}
    got = derive(frame(**still))
    np.testing.assert_allclose(got["tws_ground_kn"], 18.0)
    np.testing.assert_allclose(got["twd_ground_deg"], 70.0)
    np.testing.assert_allclose(got["drift_kn"], 0.0, atol=1e-9)
    moving = derive(frame(**(SAILING | {"cog_deg": np.nan})))
    assert moving["twd_ground_deg"].isna().all()
    assert moving["drift_kn"].isna().all()


def test_a_current_at_anchor_is_seen_by_the_log() -> None:
    """At anchor heading 090 in a stream of 2 kn from ahead: it sets 270."""
    got = derive(
        frame(**(SAILING | {"sog_kn": 0.0, "cog_deg": np.nan, "stw_kn": 2.0, "heading_true_deg": 90.0})), None
    )
    np.testing.assert_allclose(got["set_deg"], 270.0)
    np.testing.assert_allclose(got["drift_kn"], 2.0)


def test_the_mean_current_is_a_vector_mean() -> None:
    """Half the time 2 kn to 350, half 2 kn to 010: mean 2 cos 10 to 000. Opposite streams cancel."""
    half = np.arange(COUNT) < COUNT // 2
    flow = frame(set_deg=np.where(half, 350.0, 10.0), drift_kn=2.0, drift_kn_sd=0.3)
    set_deg, drift_kn, sd_kn = mean_current(flow)
    assert (set_deg + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)
    assert drift_kn == pytest.approx(2 * np.cos(np.radians(10)))
    assert sd_kn == pytest.approx(0.3)
    cancelled = frame(set_deg=np.where(half, 0.0, 180.0), drift_kn=2.0, drift_kn_sd=0.3)
    assert mean_current(cancelled)[1] == pytest.approx(0, abs=1e-9)
