"""A few recorded passages of 3 h, one fault each: the quick form of the study of the findings."""

import pytest
from judging import alarms, findings_of, is_right
from simulator import case


@pytest.mark.parametrize(
    "fault", ["log-over-reading", "compass-deviation", "vane-mirrored", "checksum-errors"]
)
def test_the_fault_is_found_first(fault, tmp_path):
    found = findings_of(case(fault, 0, hours=3.0), tmp_path)
    assert found and is_right(found[0], fault), [(one.severity, one.id) for one in found]


def test_a_clean_passage_raises_no_alarm(tmp_path):
    assert alarms(findings_of(case("clean", 0, hours=3.0), tmp_path)) == []
