"""Which source is in use, and an agreement seen from the other side."""

import numpy as np
import pytest
from boat import Boat, passage_of, rest, told

from analysis.agreement import compare_sources, in_use


def named(keys):
    return {f"{key.talker}{key.formatter}" for key in keys if key.channel.startswith("heading")}


def test_of_two_full_headings_the_magnetic_one_is_in_use_unless_the_frame_holds_the_true_one(
    small_passage,
) -> None:
    boat = Boat(0.5)
    passage = passage_of(
        [*rest(boat), told("heading_true_deg", "HE", "HDT", boat.heading + 2)], small_passage
    )
    assert named(in_use(passage)) == {"HCHDG"}
    passage.frame["heading_true_deg"] = passage.frame["heading_true_deg"] + 2.0
    assert named(in_use(passage)) == {"HEHDT"}


def test_an_agreement_turned_round_tells_the_same(small_passage) -> None:
    boat = Boat()
    second = told("stw_kn", "II", "VHW", 1.1 * boat.stw + boat.noise(0.1), decimals=2)
    (one,) = (
        a for a in compare_sources(passage_of([*rest(boat), second], small_passage)) if a.channel == "stw_kn"
    )
    other = one.turned()
    assert (other.first, other.second) == (one.second, one.first)
    assert (other.noise_first, other.dropouts_second) == (one.noise_second, one.dropouts_first)
    assert other.bias == pytest.approx(-one.bias)
    assert other.scale == pytest.approx(1 / one.scale)
    assert other.turned().scale_sd == pytest.approx(one.scale_sd)
    assert np.isclose(other.turned().bias, one.bias)
