"""What is said of log and compass, from calibrations made by hand."""

import json
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from analysis.agreement import check_headings
from analysis.calibration import Calibration, Estimate, Evidence
from analysis.calibration.results import Change, Sailed
from analysis.estimate import Need
from analysis.findings import SEVERITIES, compass, current, log, methods
from analysis.passage import Fact, Series, Source, SourceKey

RULES = (
    log.log_fouling, compass.causes, log.log_zero, log.log_factor, compass.curve, current.turns_with_boat,
    methods.disagree, methods.left_open,
)  # fmt: skip
START = pd.Timestamp("2026-06-01T08:00:00Z")
COEFFICIENTS = (
    "compass_constant_deg",
    "deviation_B_deg",
    "deviation_C_deg",
    "deviation_D_deg",
    "deviation_E_deg",
)
ROWS = 3600


def known(value, sd, unit="deg"):
    return Estimate(value, sd, unit, True)


def calibration(log_factor=(1.0, 0.002), deviation=(0, 0, 0, 0, 0), zero=None, changes=(), evidence=()):
    estimates = {"log_factor": known(*log_factor, "1")}
    estimates |= {name: known(float(value), 0.2) for name, value in zip(COEFFICIENTS, deviation, strict=True)}
    if zero is not None:
        estimates["log_zero_offset_kn"] = known(*zero, "kn")
    sailed = Sailed(5.5, tuple(np.arange(0.0, 360.0, 45.0).tolist()), True, 0.04 * np.eye(5))
    return Calibration(estimates, None, (), tuple(evidence), 900, changes=tuple(changes), sailed=sailed)


def passage(variation=0.0, source="HDG", heading_off=None, deviation=None, facts=(), talker="HC"):
    """An hour all round the compass; ``heading_off`` is what HDT holds beyond the heading in use."""
    index = pd.date_range(START, periods=ROWS, freq="s")
    heading = np.linspace(0, 720, ROWS) % 360
    columns = {
        "heading_true_deg": heading,
        "variation_deg": np.full(ROWS, variation),
        "stw_kn": np.full(ROWS, 5.5),
    }
    channel = "heading_true_deg" if source == "HDT" else "heading_mag_deg"
    if channel == "heading_mag_deg":
        columns["heading_mag_deg"] = (heading - variation) % 360
    if deviation is not None:
        columns["deviation_deg"] = deviation(heading - variation)
    series = {}
    if heading_off is not None:
        key = SourceKey("heading_true_deg", talker, "HDT", "")
        seconds = index.as_unit("ns").asi8 / 1e9
        whole = np.zeros(ROWS, dtype=np.int32)
        values = (heading + heading_off) % 360
        series[key] = Series.alone(key, "deg", seconds, values, whole == 0, whole, whole.astype(np.int16))
    sources = (Source(SourceKey(channel, "HC", source, ""), ROWS, 1.0, 1.0, True),)
    frame = pd.DataFrame(columns, index=index)
    return SimpleNamespace(frame=frame, series=series, sources=sources, facts=tuple(facts))


def found(calibrated, sailed=None):
    told = sailed or passage()
    case = SimpleNamespace(
        calibration=calibrated, passage=told, agreement=(), headings=check_headings(told, calibrated)
    )
    findings = [finding for rule in RULES for finding in rule(case)]
    for one in findings:
        assert one.severity in SEVERITIES
        assert one.title.endswith(".") and one.action.endswith(".") and one.verify.endswith(".")
        assert "_" not in one.title + one.action + one.verify + one.caution
        json.dumps(dict(one.evidence), allow_nan=False)
    return findings


def told(calibrated, sailed=None):
    return [(one.id, one.severity) for one in found(calibrated, sailed)]


def test_instruments_in_order_are_not_spoken_of():
    # Within IMO A.824(19) and MSC.116(73), however sure.
    assert told(calibration((1.015, 0.002), (0.8, 0.3, -0.4, 0.2, 0.1))) == []


def test_an_unsure_error_is_not_spoken_of():
    assert told(calibration((1.06, 0.03))) == []


@pytest.mark.parametrize(
    ("factor", "name", "severity"),
    [
        (1.08, "log-under-reading", "advice"),
        (0.8, "log-over-reading", "fault"),
        (1.2, "log-under-reading", "fault"),
    ],
)
def test_a_log_off_by_a_factor(factor, name, severity):
    first, second = found(calibration((factor, 0.003)))
    assert (first.id, first.severity) == (name, severity)
    assert f"{factor:.3f} × shown" in first.action
    assert (second.id, second.severity) == ("current-turns-with-boat", "note")
    assert second.evidence["accused"] == ["log"]
    # 5.5 kn times what the factor lacks
    assert second.value == pytest.approx(5.5 * (factor - 1))


def test_the_share_is_of_the_true_speed():
    # 1.25 times what is shown is right: the log shows 80 % of it, 20 % too little.
    assert "20.0 % too low" in found(calibration((1.25, 0.003)))[0].title


def test_a_zero_offset():
    (finding,) = found(calibration((1.0, 0.01), zero=(-0.5, 0.05)))
    assert finding.id == "log-zero-offset" and "0.50 kn too much" in finding.title
    assert told(calibration((1.0, 0.01), zero=(-0.15, 0.03))) == []


def test_a_fouling_log_takes_the_place_of_one_that_reads_low():
    change = Change("log_factor", "drift", None, 1.0, 1.125, 0.005, "1", START, START + pd.Timedelta(hours=5))
    first, *rest = found(calibration((1.06, 0.003), changes=[change]))
    assert (first.id, first.severity) == ("log-fouling", "fault")
    # 1 / 1.125 - 1 = -11.1 %, over five hours 2.2 % per hour
    assert "lost 11.1 %" in first.title and "2.2 % per hour" in first.title
    assert [one.id for one in rest] == ["current-turns-with-boat"]


def test_a_disturbed_compass_takes_the_place_of_its_deviation():
    at = START + pd.Timedelta(hours=2)
    changes = [
        Change(name, "step", at, 0.0, after, 0.3, "deg", START, START + pd.Timedelta(hours=5))
        for name, after in zip(COEFFICIENTS[:3], (6.0, 2.0, 0.0), strict=True)
    ]
    (finding,) = found(calibration(deviation=(3.0, 1.0, 0, 0, 0), changes=changes))
    assert (finding.id, finding.severity) == ("compass-disturbed", "fault")
    # A + B on 090: 6 + 2
    assert "8.0°" in finding.title and "lower than before" in finding.title and "10:00 UTC" in finding.title


def test_a_compass_constant_and_the_current_it_makes():
    first, second = found(calibration(deviation=(4.0, 0, 0, 0, 0)))
    assert (first.id, first.severity) == ("compass-constant", "advice")
    assert "4.0° too low" in first.title and "+4.0°" in first.action
    assert second.evidence["accused"] == ["compass"]


def test_a_deviation_comes_with_its_card():
    (finding,) = found(calibration(deviation=(0, 5.0, -3.0, 0, 0)))
    assert (finding.id, finding.severity) == ("compass-deviation", "fault")
    card = {row["compass_deg"]: row["deviation_deg"] for row in finding.evidence["card"]}
    # B sin h + C cos h
    assert card[0.0] == pytest.approx(-3.0) and card[90.0] == pytest.approx(5.0)
    assert card[135.0] == pytest.approx((5.0 + 3.0) * np.sqrt(0.5))


def test_a_magnetic_heading_called_true():
    (first, _) = found(calibration(deviation=(-9.0, 0, 0, 0, 0)), passage(-9.1, "HDT"))
    assert first.id == "heading-magnetic-as-true" and "9.1° W" in first.title
    assert told(calibration(), passage(-9.1, "HDG", heading_off=9.1)) == [
        ("heading-magnetic-as-true", "fault")
    ]


def test_variation_applied_twice():
    (first, _) = found(calibration(deviation=(9.0, 0, 0, 0, 0)), passage(-9.1, "HDT"))
    assert first.id == "variation-applied-twice"
    assert told(calibration(), passage(-9.1, "HDG", heading_off=-9.1)) == [
        ("variation-applied-twice", "fault")
    ]


def test_a_satellite_compass_beside_a_magnetic_one_is_off_by_the_variation_by_chance():
    for off in (9.1, -9.1):
        assert told(calibration(), passage(-9.1, "HDG", heading_off=off, talker="GN")) == []
    # alone on board it may well be a magnetic heading by another name
    alone = passage(-9.1, "HDT", heading_off=0.0, talker="GN")
    assert told(calibration(deviation=(-9.0, 0, 0, 0, 0)), alone)[0] == ("heading-magnetic-as-true", "fault")


def test_a_constant_near_the_variation_of_a_magnetic_compass_is_a_constant():
    assert told(calibration(deviation=(-9.0, 0, 0, 0, 0)), passage(-9.1))[0] == ("compass-constant", "fault")


@pytest.mark.parametrize(("logged", "used", "constant"), [(-6.0, "log", 4.0), (2.0, "model", 0.0)])
def test_a_wrong_variation(logged, used, constant):
    fact = Fact("variation-differs", "", {"logged_deg": logged, "model_deg": -2.0})
    sailed = passage(logged if used == "log" else -2.0, facts=[fact])
    first = found(calibration(deviation=(constant, 0, 0, 0, 0)), sailed)[0]
    assert (first.id, first.severity) == ("variation-wrong", "advice")
    assert first.evidence["sign_wrong"] == (logged == 2.0)


def test_a_variation_that_the_passage_confirms_is_not_wrong():
    fact = Fact("variation-differs", "", {"logged_deg": -6.0, "model_deg": -2.0})
    assert told(calibration(), passage(-6.0, facts=[fact])) == []


def test_a_deviation_field_that_others_ignore():
    def card(compass_deg):
        return 5.0 * np.sin(np.radians(compass_deg))

    off = -card(np.linspace(0, 720, ROWS))
    (finding,) = found(calibration(), passage(heading_off=off, deviation=card))
    assert finding.id == "deviation-field-ignored" and "left out of other headings (HDT)" in finding.title
    # Filled in although the heading has it already: the compass asks for its opposite.
    first = found(calibration(deviation=(0, -5.0, 0, 0, 0)), passage(deviation=card))[0]
    assert first.id == "deviation-field-ignored" and "already in its heading" in first.title


def test_methods_that_differ_are_noted():
    runs = Evidence("runs to and fro", "log_factor", 1.05, 0.005, 4)
    assert told(calibration(evidence=[runs])) == [("methods-disagree", "note")]
    assert told(calibration(evidence=[Evidence("runs to and fro", "log_factor", 1.01, 0.005, 4)])) == []


def test_what_stays_open_is_one_note():
    unknown = Estimate(None, None, "1", False, Need("Make four runs to and fro"))
    one = calibration()
    opened = Calibration(one.estimates | {"log_factor": unknown}, None, (), (), 900, sailed=one.sailed)
    (finding,) = found(opened)
    assert (finding.id, finding.severity) == ("not-determined", "note")
    assert "log" in finding.title and "four runs" in finding.action
