"""Corrections applied by the rule ``true = factor x shown`` and ``true = shown + offset``; numbers by hand."""

import numpy as np
import pandas as pd
import pytest

from analysis.correction import SETTABLE, accuracy_of, beyond, correct, leeway_of, overruled, stated
from analysis.derive import Accuracy
from analysis.errors import SettingError
from analysis.estimate import Estimate
from analysis.screening import Mistake

INDEX = pd.date_range("2026-06-03T10:00:00Z", periods=60, freq="s", name="time_utc")


def frame(**columns: float) -> pd.DataFrame:
    return pd.DataFrame(columns, index=INDEX, dtype=float)


def known(value: float, sd: float = 0.01, unit: str = "1") -> Estimate:
    return Estimate(value, sd, unit, True)


SHOWN = frame(
    stw_kn=6.0,
    heading_true_deg=350.0,
    variation_deg=-10.0,
    awa_deg=-178.0,
    aws_kn=10.0,
    air_pressure_hpa=1000.0,
)


def corrected(**estimates: Estimate) -> pd.Series:
    return correct(SHOWN, SHOWN, estimates).iloc[0]


def test_speeds_are_multiplied_and_angles_shifted() -> None:
    row = corrected(
        log_factor=known(1.1),
        compass_constant_deg=known(15.0, unit="deg"),
        vane_offset_deg=known(-4.0, unit="deg"),
        wind_speed_factor=known(0.9),
        barometer_offset_hpa=known(2.5, unit="hPa"),
    )
    assert row["stw_kn"] == pytest.approx(6.6)
    assert row["heading_true_deg"] == pytest.approx(5.0)
    assert row["awa_deg"] == pytest.approx(178.0)
    assert row["aws_kn"] == pytest.approx(9.0)
    assert row["air_pressure_hpa"] == pytest.approx(1002.5)


def test_what_was_shown_is_kept_beside_what_was_corrected_and_only_there() -> None:
    got = correct(SHOWN, SHOWN, {"log_factor": known(1.1)})
    assert got["stw_kn_shown"].iloc[0] == 6.0
    assert [name for name in got if name.endswith("_shown")] == ["stw_kn_shown"]
    assert SHOWN["stw_kn"].iloc[0] == 6.0


def test_the_deviation_curve_is_entered_with_the_compass_heading() -> None:
    # heading 350 true with variation 10 west is 000 by compass, where C acts whole and B not at all
    row = corrected(deviation_B_deg=known(5.0, unit="deg"), deviation_C_deg=known(2.0, unit="deg"))
    assert row["heading_true_deg"] == pytest.approx(352.0)


def test_a_log_at_rest_keeps_its_zero() -> None:
    still = frame(stw_kn=0.0)
    estimates = {"log_factor": known(1.1), "log_zero_offset_kn": known(0.5, unit="kn")}
    assert correct(still, still, estimates)["stw_kn"].iloc[0] == 0.0


def test_what_is_not_determined_is_not_applied() -> None:
    assert corrected(log_factor=Estimate(1.1, 0.2, "1", False))["stw_kn"] == 6.0


def test_what_the_screening_took_out_is_shown_beside() -> None:
    screened = SHOWN.assign(aws_kn=np.nan)
    got = correct(SHOWN, screened, {})
    assert got["aws_kn"].isna().all()
    assert (got["aws_kn_shown"] == 10.0).all()


def test_a_value_set_by_hand_overrules_and_is_exact() -> None:
    estimates = overruled({"log_factor": known(1.1)}, {"log_factor": 1.05, "vane_offset_deg": 3})
    assert estimates["log_factor"] == Estimate(1.05, 0.0, "1", True)
    assert estimates["vane_offset_deg"].determined


@pytest.mark.parametrize(
    ("name", "value"), [("log_faktor", 1.0), ("log_factor", 0.0), ("log_factor", float("nan"))]
)
def test_a_setting_without_meaning_is_refused_with_the_remedy(name: str, value: float) -> None:
    with pytest.raises(SettingError, match="give"):
        overruled({}, {name: value})


def test_a_mistake_undone_is_part_of_the_correction_stated() -> None:
    estimates = {"wind_speed_factor": known(1.1), "vane_offset_deg": known(5.0, 1.0, "deg")}
    mistakes = [Mistake("aws_kn", "unit", factor=2.0), Mistake("awa_deg", "reversed", offset_deg=180.0)]
    whole = stated(estimates, mistakes)
    assert whole["wind_speed_factor"].value == pytest.approx(2.2)
    assert whole["wind_speed_factor"].sd == pytest.approx(0.02)
    assert whole["vane_offset_deg"].value == pytest.approx(-175.0)


def test_what_is_set_by_hand_is_a_correction_of_what_the_sensors_show() -> None:
    # The screening made 2 x the wind speed and turned the vane by 180 deg: what is left is 2.2 / 2 and -175 + 180.
    mistakes = [Mistake("aws_kn", "unit", factor=2.0), Mistake("awa_deg", "reversed", offset_deg=180.0)]
    rest = beyond(mistakes, {"wind_speed_factor": 2.2, "vane_offset_deg": -175.0, "log_factor": 1.1})
    assert rest == pytest.approx({"wind_speed_factor": 1.1, "vane_offset_deg": 5.0, "log_factor": 1.1})


def test_leeway_goes_with_the_corrections_it_was_estimated_with() -> None:
    weak = Estimate(9.0, 3.0, "deg kn2/deg", False)
    assert leeway_of({"leeway_coefficient": weak}) is None
    leeway = leeway_of({"leeway_coefficient": weak, "log_factor": known(1.0)})
    assert leeway is not None
    assert (leeway.coefficient, leeway.sd) == (9.0, 3.0)


def test_accuracy_is_the_standards_where_nothing_is_known() -> None:
    got, standard = accuracy_of({}, frame(stw_kn=6.0)), Accuracy()
    assert (got.log_share, got.wind_share) == (standard.log_share, standard.wind_share)
    assert np.all(got.vane_deg == standard.vane_deg)


def test_an_open_correction_counts_with_all_it_may_amount_to() -> None:
    half_known = {"wind_speed_factor": Estimate(1.12, 0.05, "1", False)}
    assert accuracy_of(half_known, frame(stw_kn=6.0)).wind_share == pytest.approx(0.13)  # 5, 12, 13


def test_every_setting_is_a_correction_of_the_conventions() -> None:
    assert all(low < high for low, high in SETTABLE.values())
