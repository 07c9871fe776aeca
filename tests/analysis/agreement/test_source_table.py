"""The sources side by side, on a boat with a second compass and a second log."""

import pytest
from boat import Boat, passage_of, rest, told

from analysis.passage import Passage, SourceKey
from analysis.review import Review, Settings, assess, reassessed
from analysis.source_table import chosen_instead, groups_of, singles_of

HDT = SourceKey("heading_true_deg", "HE", "HDT", "")
LOG = SourceKey("stw_kn", "II", "VHW", "")


@pytest.fixture
def reviewed(small_passage: Passage) -> Review:
    boat = Boat(1.0)
    second = [
        told("heading_true_deg", "HE", "HDT", boat.heading + 6 + boat.noise(0.3)),
        told("stw_kn", "II", "VHW", boat.stw + boat.noise(0.05), decimals=2),
        told("stw_kn", "XX", "VHW", boat.stw[:20], decimals=2),
    ]
    return assess(passage_of([*rest(boat), *second], small_passage), Settings())


def test_the_one_in_use_comes_first_and_the_others_are_told_beside_it(reviewed: Review) -> None:
    groups = {one.channel: one for one in groups_of(reviewed.case)}
    assert list(groups) == ["heading_true_deg", "stw_kn"]
    used, other = groups["heading_true_deg"].members
    assert used.used and used.source.key.formatter == "HDG" and used.agreement is None
    assert other.source.key == HDT
    assert other.agreement is not None
    # HDT was made 6 deg to the right of HDG.
    assert other.agreement.bias == pytest.approx(6.0, abs=0.2)
    assert groups["heading_true_deg"].disagrees
    assert not groups["stw_kn"].disagrees
    assert groups["stw_kn"].instruments
    # twenty readings of a torn name are no source
    assert len(groups["stw_kn"].members) == 2


def test_the_rest_is_alone(reviewed: Review) -> None:
    names = {one.key.channel for one in singles_of(reviewed.passage)}
    assert {"lat_deg", "sog_kn", "awa_deg", "depth_m"} <= names
    assert not names & {"lon_deg", "stw_kn", "heading_true_deg", "heading_mag_deg"}


def test_another_source_chosen_is_the_one_in_use(reviewed: Review) -> None:
    choices = chosen_instead({"heading_mag_deg": ("HC", "HDG", "")}, HDT)
    assert choices == {"heading_true_deg": ("HE", "HDT", "")}
    again = reassessed(reviewed, sources=chosen_instead(choices, LOG))
    groups = {one.channel: one for one in groups_of(again.case)}
    assert groups["heading_true_deg"].members[0].source.key == HDT
    assert groups["stw_kn"].members[0].source.key == LOG
    # and back to the magnetic one
    back = reassessed(
        again,
        sources=chosen_instead(
            again.settings.sources, HDT._replace(channel="heading_mag_deg", talker="HC", formatter="HDG")
        ),
    )
    assert groups_of(back.case)[0].members[0].source.key.formatter == "HDG"
