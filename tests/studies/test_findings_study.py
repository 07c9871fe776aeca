"""The findings against recorded passages with one fault each, and with none: 40 passages of 6 h per fault.

Run with ``pytest -m study -s tests/studies/test_findings_study.py``, one fault with ``-k vane-offset``. Passages
differ in boat outfit, sea area, date, tide to 2 kn, noise model, pilot, rates and decimals.
"""

from collections import Counter

import pytest
from simulator import CLEAN, FAULTS, case

from analysis import Settings, review
from analysis.reading.pressure import pressure_reference

pytestmark = pytest.mark.study

PASSAGES = 40
FOUND_FIRST = 0.95


def findings_of(made, folder):
    """Review a case as a file, as a crew would, beside a station's pressure where the barometer matters."""
    path, pressures = folder / "passage.nmea", folder / "pressure.csv"
    path.write_bytes(made.nmea())
    if made.fault not in ("barometer-offset", *CLEAN):
        return review(path).findings
    pressures.write_text(made.pressure_csv(), "utf-8")
    return review(path, Settings(pressure=pressure_reference(str(pressures)))).findings


def is_right(finding, fault):
    """Whether a finding names the fault, and for a wrong true wind its cause."""
    wanted = FAULTS[fault]
    if finding is None or not finding.id.startswith(wanted.first):
        return False
    if not (wanted.causes and finding.id.startswith("true-wind")):
        return True
    told = f"{finding.id} {finding.evidence.get('cause', '')}"
    return any(cause in told for cause in wanted.causes)


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
    alarms = []
    for seed in range(PASSAGES):
        found = findings_of(case(kind, seed), tmp_path)
        alarms += [(seed, one.severity, one.id, one.title) for one in found if one.severity != "note"]
    print(f"\n{kind}: {len(alarms)} alarms in {PASSAGES} passages: {alarms}")
    assert not alarms
