"""The rudder sensor of boats whose rudder is known, and what is found against it."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from helms import START, bare, beat
from simulator import sail
from simulator.helm import Helm, rudder_shown

from analysis.findings import Case, Finding, rudder
from analysis.manoeuvres import find_manoeuvres
from analysis.screening import Screened
from analysis.steering import Rudder, watch_rudder


def watched(frame: pd.DataFrame) -> Rudder:
    found = watch_rudder(bare(frame), frame, find_manoeuvres(frame))
    assert found is not None
    return found


def told(frame: pd.DataFrame) -> list[Finding]:
    case = object.__new__(Case)
    for name, value in {
        "passage": bare(frame),
        "screened": Screened(frame),
        "manoeuvres": find_manoeuvres(frame),
    }.items():
        object.__setattr__(case, name, value)
    return [one for rule in rudder.RULES for one in rule(case)]


@pytest.mark.parametrize("offset_deg", [0.0, 3.0, -2.0])
def test_offset_and_weather_helm_are_parted_by_the_two_tacks(offset_deg: float) -> None:
    # the boat of helms.py needs 0.2 deg of rudder for each degree of heel: 3 deg either way at 15 deg of heel
    found = watched(beat(offset_deg=offset_deg, weather_helm=0.2))
    assert found.offset.determined
    assert found.offset.value == pytest.approx(offset_deg, abs=0.1)
    means = {tack.side: tack.mean_deg for tack in found.tacks}
    assert means["port"] - means["starboard"] == pytest.approx(6.0, abs=0.2)
    assert found.helm is not None
    assert found.helm.value == pytest.approx(0.2, abs=0.03)


def test_one_tack_alone_tells_no_offset() -> None:
    one = watched(beat(one_tack=True, offset_deg=3.0)).offset
    assert not one.determined
    assert one.needs is not None
    assert "each tack" in one.needs


def test_long_legs_on_one_tack_and_a_turn_do_not_tell_it_either() -> None:
    frame = beat(tacks=2, leg_s=1800, offset_deg=3.0)
    frame = frame.iloc[: 1800 + 200]
    assert not watched(frame).offset.determined


@pytest.mark.parametrize(("gain", "delay_s"), [(0.5, 2), (0.3, 3)])
def test_the_answer_to_the_rudder(gain: float, delay_s: int) -> None:
    found = watched(beat(tacks=12, gain=gain, delay_s=delay_s)).response
    assert found.sign == 1
    assert found.gain.value == pytest.approx(gain, rel=0.03)
    # the heading of a row is that at the end of its second, so it comes half a second early
    assert found.delay.value == pytest.approx(delay_s - 0.5, abs=0.2)
    assert found.to_port.value == pytest.approx(gain, rel=0.05)
    assert found.to_starboard.value == pytest.approx(gain, rel=0.05)


@pytest.mark.parametrize("play_deg", [0.0, 4.0])
def test_play_is_what_the_shown_angle_lags_on_a_reversal(play_deg: float) -> None:
    rng = np.random.default_rng(11)
    voyage = sail("mixed", 4, hours=6.0)
    frame = voyage.frame.assign(rudder_deg=rudder_shown(rng, voyage, Helm(play_deg=play_deg)))
    found = watched(frame).response.play
    assert found.value is not None
    assert found.sd is not None
    assert abs(found.value - play_deg) < 1.96 * found.sd


def test_a_sound_sensor_raises_nothing() -> None:
    assert told(beat()) == []


def test_an_offset_beyond_the_standard_is_advice() -> None:
    (one,) = told(beat(offset_deg=-3.0))
    assert (one.id, one.severity) == ("rudder-bias", "advice")
    assert "3.0" in one.title
    assert "to starboard" in one.title  # true = shown - 3: it shows 3 deg of starboard rudder amidships
    assert "-3.0°" in one.action


def test_an_offset_inside_the_standard_is_none() -> None:
    assert told(beat(offset_deg=0.9)) == []


def test_a_reversed_sensor_is_told_by_the_turns_that_follow_it() -> None:
    frame = beat()
    (one,) = told(frame.assign(rudder_deg=-frame["rudder_deg"]))
    assert one.id == "rudder-reversed"
    assert one.severity == "note"


def test_an_angle_that_follows_the_turn_tells_no_sign() -> None:
    frame = beat()
    late = watched(frame.assign(rudder_deg=-frame["rudder_deg"].shift(5)))
    assert late.response.sign == 0
    assert not late.judged.determined


def test_an_offset_counts_only_where_the_turns_tell_the_side() -> None:
    frame = beat(offset_deg=-3.0)
    late = frame.assign(rudder_deg=frame["rudder_deg"].shift(5))
    assert watched(late).offset.determined and watched(late).response.sign == 0
    assert told(late) == []


def test_the_offset_is_judged_where_the_turns_tell_the_side() -> None:
    found = watched(beat(offset_deg=0.5))
    assert found.offset.determined and found.judged == found.offset


def test_a_rudder_that_stands_still_through_tacks_is_a_fault() -> None:
    frame = beat()
    shown = frame["rudder_deg"].to_numpy().copy()
    shown[1500:3900] = 2.0
    stuck = told(frame.assign(rudder_deg=shown))
    assert [(one.id, one.severity) for one in stuck] == [("rudder-stuck", "fault")]
    (still,) = watched(frame.assign(rudder_deg=shown)).still
    assert still.start == START + pd.Timedelta(seconds=1500)
    assert still.turns == 4  # the tacks at 1800, 2400, 3000 and 3600 s


def test_without_a_rudder_there_is_nothing() -> None:
    frame = beat().drop(columns="rudder_deg")
    assert watch_rudder(bare(frame), frame, find_manoeuvres(frame)) is None


def test_a_boat_at_rest_or_without_heading_says_nothing_wrong() -> None:
    moored = beat().assign(stw_kn=0.0, sog_kn=0.0)
    assert not watched(moored).offset.determined
    assert told(moored) == []
    blind = beat().drop(columns=["heading_true_deg"])
    assert not watched(blind).response.gain.determined


def test_the_result_is_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        watched(beat()).channel = "x"  # type: ignore[misc]
