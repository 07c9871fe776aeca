"""The findings against recorded passages with one fault each, and with none: 40 passages of 6 h per fault.

Run with ``pytest -m study -s tests/studies/test_findings_study.py``, one fault with ``-k vane-offset``. Passages
differ in boat outfit, sea area, date, tide to 2 kn, noise model, pilot, rates and decimals.
"""

from collections import Counter

import pytest
from judging import alarms, findings_of, is_right
from simulator import CLEAN, FAULTS, case

pytestmark = pytest.mark.study

PASSAGES = 40
FOUND_FIRST = 0.95


@pytest.mark.parametrize("fault", FAULTS)
def test_the_fault_is_found_first(fault, tmp_path):
    right, wrong = 0, []
    for seed in range(PASSAGES):
        found = findings_of(case(fault, seed), tmp_path)
        first = found[0] if found else None
        if is_right(first, fault):
            right += 1
        else:
            later = next((i for i, one in enumerate(found) if is_right(one, fault)), None)
            wrong.append((seed, first and f"{first.severity} {first.id}", later))
    ids = Counter(first for _, first, _ in wrong)
    print(
        f"\n{fault}: first in {right} of {PASSAGES}; else {dict(ids)}; seed, first, place of the right one: {wrong}"
    )
    assert right >= FOUND_FIRST * PASSAGES


@pytest.mark.parametrize("kind", CLEAN)
def test_a_clean_passage_raises_no_alarm(kind, tmp_path):
    raised = {seed: alarms(findings_of(case(kind, seed), tmp_path)) for seed in range(PASSAGES)}
    raised = {seed: told for seed, told in raised.items() if told}
    print(f"\n{kind}: alarms in {len(raised)} of {PASSAGES} passages: {raised}")
    assert not raised
