"""The deviation card: rows, signs, and what is too wide to read."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.calibration import Calibration, Evidence
from analysis.calibration.results import Change, Sailed
from analysis.calibration.water import DEVIATION
from analysis.deviation_card import before_and_after, card_of, card_rows, swung, worst
from analysis.estimate import Estimate

VALUES = (1.0, 2.0, 0.0, 0.0, 0.0)
ESTIMATES = {name: Estimate(value, 0.3, "deg", True) for name, value in zip(DEVIATION, VALUES, strict=True)}


def judged(sd_deg: float = 0.3, courses_differ: bool = True) -> Calibration:
    sailed = Sailed(6.0, (0.0, 90.0), courses_differ, np.diag([sd_deg**2, 0, 0, 0, 0]))
    return Calibration(ESTIMATES, None, (), (), 300, sailed=sailed)


def test_the_rows_add_deviation_and_variation() -> None:
    card = card_of(judged(), ESTIMATES)
    assert card is not None
    rows = card_rows(card, np.array([-4.0, np.nan, -6.0]), 90)
    assert [row.compass_deg for row in rows] == [0, 90, 180, 270]
    # A + B sin h with A = 1 and B = 2: 1, 3, 1, -1; variation 5 west on the mean.
    assert [row.deviation_deg for row in rows] == pytest.approx([1, 3, 1, -1])
    assert [row.magnetic_deg for row in rows] == pytest.approx([1, 93, 181, 269])
    assert [row.true_deg for row in rows] == pytest.approx([356, 88, 176, 264])
    assert [row.within_deg for row in rows] == pytest.approx([0.588] * 4)
    assert all(row.readable for row in rows)


def test_a_row_too_wide_is_not_readable_and_no_variation_gives_no_true() -> None:
    card = card_of(judged(sd_deg=2.0), ESTIMATES)
    assert card is not None
    (first, *_) = card_rows(card, np.array([np.nan]), 90)
    assert not first.readable
    assert first.true_deg is None


def test_one_course_gives_no_card() -> None:
    assert card_of(judged(courses_differ=False), ESTIMATES) is None
    assert card_of(Calibration({}, None, (), (), 0), {}) is None


def test_the_worst_heading_leaves_the_constant_out() -> None:
    card = card_of(judged(), ESTIMATES)
    assert card is not None
    heading, off, sd = worst(card)
    # 2 sin h is greatest at 90 (or as great, negative, at 270); only the constant was uncertain.
    assert heading == 90
    assert off == pytest.approx(2.0)
    assert sd == pytest.approx(0.0)


def test_full_turns_give_a_card_each() -> None:
    evidence = [
        Evidence("full turn", name, value + turn, 0.5, 30)
        for turn in (0.0, 1.0)
        for name, value in zip(DEVIATION, VALUES, strict=True)
    ] + [Evidence("full turn", "vane_offset_deg", 3.0, 1.0, 30)]
    first, second = swung(evidence)
    assert first.coefficients_deg == VALUES
    assert second.at(np.array([0.0])).tolist() == pytest.approx([2.0 + 1.0 + 1.0])


def test_a_disturbed_compass_has_two_curves() -> None:
    start, at, end = pd.date_range("2026-06-01 08:00", periods=3, freq="h", tz="UTC")
    step = Change("compass_constant_deg", "step", at, 0.0, 9.0, 0.5, "deg", start, end)
    fouling = Change("log_factor", "drift", None, 1.0, 1.1, 0.01, "1", start, end)
    card = card_of(judged(), ESTIMATES)
    assert card is not None
    found = before_and_after(replace(judged(), changes=(fouling, step)), card)
    assert found is not None
    assert found[0] == at
    # A goes from 0 to 9, B stays 2.
    assert found[1].coefficients_deg == (0.0, 2.0, 0.0, 0.0, 0.0)
    assert found[2].coefficients_deg == (9.0, 2.0, 0.0, 0.0, 0.0)
    assert before_and_after(replace(judged(), changes=(fouling,)), card) is None
