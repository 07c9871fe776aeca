"""Which wind swings more, and what gusts do, in frames made for it."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from helms import START, bare

from analysis.manoeuvres import find_manoeuvres
from analysis.steering import Gusts, Steadiness, watch_gusts, watch_steadiness


def straight(seconds: int, **columns: object) -> pd.DataFrame:
    index = pd.date_range(START, periods=seconds, freq="s", name="time_utc")
    values = {
        "heading_true_deg": 90.0, "stw_kn": 6.0, "awa_deg": 30.0, "aws_kn": 16.0, "twa_water_deg": 45.0,
        "tws_water_kn": 12.0, "heel_deg": -12.0,
    } | columns  # fmt: skip
    return pd.DataFrame(
        {name: np.broadcast_to(value, seconds) for name, value in values.items()}, index=index
    )


def swinging(seconds: int, size_deg: float, rng: np.random.Generator) -> np.ndarray:
    """A swing of a one-sigma, with a memory of a minute."""
    white = rng.normal(0, 1, seconds + 300)
    slow = np.convolve(white, np.exp(-np.arange(300) / 60), mode="valid")[:seconds]
    return size_deg * slow / slow.std()


def steady(frame: pd.DataFrame) -> Steadiness:
    return watch_steadiness(bare(frame), frame, find_manoeuvres(frame))


@pytest.mark.parametrize(("awa_deg", "twa_deg", "steadier"), [(2.0, 4.0, "AWA"), (6.0, 3.0, "TWA")])
def test_the_wind_whose_direction_swings_less_is_the_steadier(
    awa_deg: float, twa_deg: float, steadier: str
) -> None:
    rng = np.random.default_rng(3)
    frame = straight(
        7200,
        awa_deg=30 + swinging(7200, awa_deg, rng),
        twa_water_deg=45 + swinging(7200, twa_deg, rng),
    )
    one = steady(frame).upwind
    assert one.steadier == steadier
    assert one.low is not None
    assert one.high is not None
    assert one.low < awa_deg / twa_deg < one.high
    assert steady(frame).downwind.steadier == ""


def test_the_ends_of_a_recording_are_as_steady_as_its_middle() -> None:
    # Nothing moves, so nothing wanders: a mean at the first and last rows is over those that are there.
    (one,) = steady(straight(1200)).classes
    assert max(one.heading_deg, one.awa_deg, one.twa_deg) == pytest.approx(0.0, abs=1e-6)


def test_alike_swings_are_not_told_apart() -> None:
    rng = np.random.default_rng(4)
    frame = straight(7200, awa_deg=30 + swinging(7200, 3, rng), twa_water_deg=45 + swinging(7200, 3, rng))
    assert steady(frame).upwind.steadier == ""


def test_how_the_boat_was_steered_does_not_decide() -> None:
    # Held to AWA exactly: AWA does not move, the heading takes all of the apparent wind's swing.
    rng = np.random.default_rng(5)
    apparent, true = swinging(7200, 5, rng), swinging(7200, 2, rng)
    frame = straight(7200, heading_true_deg=90 + apparent, twa_water_deg=45 + true - apparent)
    found = steady(frame)
    assert found.classes[0].awa_deg < 0.1 * found.classes[0].heading_deg
    assert found.upwind.steadier == "TWA"


def test_who_speaks_of_a_pilot_is_told_apart() -> None:
    frame = straight(900)
    spoken = {"HTD": 9, "APB": 9, "XTE": 9, "ZZZ": 1}
    log = bare(frame)
    log = replace(log, counts=replace(log.counts, unknown_formatters=spoken))
    found = watch_steadiness(log, frame, find_manoeuvres(frame))
    assert (found.pilot, found.plotter) == (("HTD",), ("APB", "XTE"))


def test_too_short_says_how_much_there_is() -> None:
    found = steady(straight(900))
    assert found.upwind.ratio is None
    assert "of 5 windows" in found.upwind.reason


def test_what_is_missing_is_said() -> None:
    frame = straight(3600)
    assert "heading" in steady(frame.drop(columns="heading_true_deg")).missing
    assert "apparent wind" in steady(frame.drop(columns="awa_deg")).missing
    assert "true wind" in watch_gusts(frame.drop(columns="tws_water_kn"), find_manoeuvres(frame)).missing


def gusty() -> Gusts:
    """Gusts of 5 kn every six minutes; in each the boat luffs 6 deg and leans 4 deg more, on starboard tack."""
    t = np.arange(7200)
    hump = np.exp(-((((t + 180) % 360) - 180) ** 2) / (2 * 8.0**2))
    frame = straight(
        7200,
        tws_water_kn=12 + 5 * hump,
        heading_true_deg=90 + 6 * hump,
        twa_water_deg=45 - 6 * hump,
        awa_deg=30 + 2 * hump,
        heel_deg=-12 - 4 * hump,
    )
    return watch_gusts(frame, find_manoeuvres(frame))


def test_gusts_are_counted_and_measured() -> None:
    found = gusty()
    # every six minutes from the start to the end of two hours, the first and the last cut in half
    assert len(found.time_s) == 21
    assert found.per_hour == pytest.approx(10, abs=0.6)
    # the mean of ten minutes takes 5 x 8 x sqrt(2 pi) / 360 = 0.28 kn of it
    assert np.median(found.rise_kn) == pytest.approx(4.7, abs=0.15)


def test_luff_and_heel_have_their_signs() -> None:
    (one,) = gusty().responses
    assert one.name == "upwind"
    # the mean of the hump over 15 s from its peak: 8 x sqrt(pi / 2) x erf(15 / 8 / sqrt 2) / 15 = 0.63
    assert one.luff_deg == pytest.approx(6 * 0.63, abs=0.4)
    assert one.heel_deg == pytest.approx(4 * 0.63, abs=0.3)
    assert one.awa_deg == pytest.approx(2 * 0.63, abs=0.2)


def test_a_steady_wind_has_no_gusts() -> None:
    frame = straight(7200)
    assert len(watch_gusts(frame, find_manoeuvres(frame)).time_s) == 0
