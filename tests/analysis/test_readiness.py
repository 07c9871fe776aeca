"""What each instrument comes to before the next passage."""

from dataclasses import replace

import pytest
from samples import reviewed_sample

from analysis import Estimate, Finding, Review
from analysis.readiness import INSTRUMENTS, Line, Readiness, readiness

DEVIATION = {f"deviation_{letter}_deg": Estimate(0.2, 0.2, "deg", True) for letter in "BCDE"}


@pytest.fixture(scope="module")
def rigger() -> Review:
    return reviewed_sample("riggers-case")


def lines(one: Review, *findings: Finding, **estimates: Estimate) -> dict[str, Line]:
    return {line.instrument: line for line in judged(one, *findings, **estimates).lines}


def judged(one: Review, *findings: Finding, **estimates: Estimate) -> Readiness:
    return readiness(one.case, findings, estimates)


def test_every_instrument_has_one_line_and_one_state(rigger: Review) -> None:
    told = judged(rigger)
    assert [line.instrument for line in told.lines] == [
        *(one.name for one in INSTRUMENTS), "own AIS", "clock",
    ]  # fmt: skip
    states = {line.state for line in told.lines}
    assert states <= {"verified", "off", "not known", "no sensor"}
    assert told.on == rigger.passage.frame.index[-1]


def test_verified_is_determined_and_inside_the_published_accuracy(rigger: Review) -> None:
    # IMO A.824(19): 2 % of speed; 1 % off and 1.96 x 0.4 % make 1.8 %
    log = lines(rigger, log_factor=Estimate(1.01, 0.004, "1", True))["log"]
    assert log.state == "verified"
    assert log.within == pytest.approx(0.01784, abs=1e-5)
    # 1 % off and 1.96 x 0.6 % make 2.2 %: neither right nor surely off
    log = lines(rigger, log_factor=Estimate(1.01, 0.006, "1", True))["log"]
    assert log.state == "not known"
    assert "2 %" in log.said


def test_off_without_a_finding_is_still_off(rigger: Review) -> None:
    vane = lines(rigger, vane_offset_deg=Estimate(6.0, 0.5, "deg", True))["wind vane"]
    assert (vane.state, vane.correction, vane.value) == ("off", "vane_offset_deg", 6.0)


def test_a_finding_speaks_against_a_good_estimate(rigger: Review) -> None:
    fault = Finding(
        "x", "log", "fault", "It is weedy.", 1.0, 0.1, "1", True, {}, "Clean it.", "Run to and fro.", ""
    )
    good = Estimate(1.0, 0.001, "1", True)
    log = lines(rigger, fault, log_factor=good)["log"]
    assert (log.state, log.said, log.enter, log.next) == (
        "off",
        "It is weedy.",
        "Clean it.",
        "Run to and fro.",
    )
    assert lines(rigger, replace(fault, severity="note"), log_factor=good)["log"].state == "verified"


def test_not_determined_says_what_would_tell(rigger: Review) -> None:
    vane = lines(rigger, vane_offset_deg=Estimate(None, None, "deg", False))["wind vane"]
    assert vane.state == "not known"
    assert "Tack" in vane.next


def test_a_compass_is_verified_with_its_whole_curve_only(rigger: Review) -> None:
    constant = Estimate(0.2, 0.1, "deg", True)
    assert lines(rigger, compass_constant_deg=constant, **DEVIATION)["compass"].state == "verified"
    assert lines(rigger, compass_constant_deg=constant)["compass"].state == "not known"
    bent = DEVIATION | {"deviation_B_deg": Estimate(6.0, 0.2, "deg", True)}
    assert lines(rigger, compass_constant_deg=constant, **bent)["compass"].state == "not known"


@pytest.mark.parametrize(
    ("curve", "state"),
    [
        # 3 sin h + 3 sin 2h reaches 3 x 1.76 = 5.3 deg, though the root of the squares is 4.2
        ({"B": 3.0, "D": 3.0}, "not known"),
        ({"B": 3.0}, "verified"),
        # that passage knows B to 0.43 deg, one-sigma: 4.5 + 1.96 x 0.43 is beyond 5
        ({"B": 4.5}, "not known"),
    ],
)
def test_the_deviation_counts_on_its_worst_heading_with_its_spread(
    rigger: Review, curve: dict[str, float], state: str
) -> None:
    constant = Estimate(0.2, 0.1, "deg", True)
    named = {f"deviation_{letter}_deg": Estimate(value, 0.2, "deg", True) for letter, value in curve.items()}
    line = lines(rigger, compass_constant_deg=constant, **DEVIATION | named)["compass"]
    assert line.state == state
    assert ("within 5°" in line.said) == (state == "not known")


def test_what_the_log_lacks_is_no_sensor(rigger: Review) -> None:
    told = lines(rigger)
    assert told["own AIS"].state == "no sensor"
    assert told["echo sounder"].state == "no sensor"  # 900 m of water: the sounder told nothing
    assert told["rudder sensor"].state == "verified"  # the invented sensor is true
    assert told["heel sensor"].state == "verified"


def test_a_rudder_whose_sign_seems_reversed_is_not_verified(rigger: Review) -> None:
    rudder = rigger.case.rudder
    assert rudder is not None
    response = rudder.response
    gain = replace(response.gain, value=-(response.gain.value or 0.0))
    case = replace(rigger.case)
    vars(case)["rudder"] = replace(rudder, response=replace(response, gain=gain))
    line = next(one for one in readiness(case, (), {}).lines if one.instrument == "rudder sensor")
    assert line.state == "not known"
    assert "reversed" in line.said
