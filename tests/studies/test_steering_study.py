"""The rudder sensor's offset and play against boats of other physics: coverage over 40 passages of 6 h per plan.

Run with ``pytest -m study -s tests/studies/test_steering_study.py``. The boats carry weather helm, sail each leg
trimmed a little otherwise, and have a heel sensor whose zero is off by what screening lets pass.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from simulator import sail
from simulator.helm import draw_helm, rudder_shown

from analysis.findings.rudder import TOLERANCE_DEG
from analysis.invent import SCENARIOS, Boat, Errors, invent
from analysis.manoeuvres import find_manoeuvres
from analysis.passage import Counts, Passage
from analysis.review import review
from analysis.steering import watch_rudder

pytestmark = pytest.mark.study

PASSAGES = 40
PILOTS = ("wind", "compass", "shown-awa")


def bare(frame):
    counts = Counts(0, 0, 0, 0, {}, {}, {}, {}, {})
    return Passage((), counts, (), {}, (), "", (), frame, frame, frame, frame)


def sailed(plan, seed, **changes):
    rng = np.random.default_rng([seed, 77])
    voyage = sail(plan, seed, hours=6.0, heavy=bool(seed % 2), pilot=PILOTS[seed % 3])
    helm = replace(draw_helm(rng), **changes)
    frame = voyage.frame.copy()
    frame["rudder_deg"] = rudder_shown(rng, voyage, helm)
    if "heel_deg" in frame:
        frame["heel_deg"] = frame["heel_deg"] + rng.normal(0, 0.7)
    return helm, watch_rudder(bare(frame), frame, find_manoeuvres(frame))


@cache
def seen(plan):
    return [sailed(plan, seed) for seed in range(PASSAGES)]


def share_within(errors, sds):
    return float(np.mean(np.abs(errors) < 1.96 * np.array(sds)))


@pytest.mark.parametrize("plan", ["mixed", "beating"])
def test_the_offset_lies_within_its_interval(plan):
    told = [(helm, found.offset) for helm, found in seen(plan) if found.offset.determined]
    errors = [one.value - helm.offset_deg for helm, one in told]
    share = share_within(errors, [one.sd for _, one in told])
    print(f"{plan}: determined {len(told)} of {PASSAGES}, rms {np.std(errors):.2f} deg, within {share:.1%}")
    assert len(told) >= 0.9 * PASSAGES
    assert 0.9 <= share <= 0.99 or (share == 1.0 and len(told) < 60)
    assert np.sqrt(np.mean(np.square(errors))) < TOLERANCE_DEG / 2


@pytest.mark.parametrize("plan", ["one_course"])
def test_one_course_tells_no_offset(plan):
    assert not any(found.offset.determined for _, found in seen(plan))


def test_no_sign_is_ever_told_wrong_and_a_reversed_one_nearly_always():
    assert not any(found.reversed for plan in ("mixed", "beating") for _, found in seen(plan))
    wrong = [sailed("mixed", seed, reversed=True)[1].reversed for seed in range(12)]
    print(f"reversed told in {sum(wrong)} of 12")
    assert sum(wrong) >= 10


def test_the_play_lies_within_its_interval():
    within, told = 0, 0
    for seed in range(PASSAGES):
        _, found = sailed("mixed", seed, play_deg=float(seed % 4))
        one = found.response.play
        if one.determined:
            told += 1
            within += abs(one.value - seed % 4) < 1.96 * one.sd
    print(f"play: determined {told} of {PASSAGES}, within {within / told:.1%}")
    assert within >= 0.9 * told


def test_an_invented_log_gives_its_offset_back(tmp_path):
    """The whole road, from sentences: 12 passages of three and a half hours, offsets of either sign."""
    errors, sds = [], []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        offset = float(rng.normal(0, 3))
        boat = Boat(weather_helm=float(rng.uniform(0, 0.35)))
        plan = replace(SCENARIOS["clean"], boat=boat, errors=Errors(rudder_offset_deg=offset))
        path = tmp_path / f"{seed}.nmea"
        path.write_bytes(invent(plan, seed, hours=3.5).log_bytes())
        one = review(path).case.rudder.offset
        assert one.determined
        errors.append(one.value - offset)
        sds.append(one.sd)
    share = share_within(errors, sds)
    print(f"invented: rms {np.std(errors):.3f} deg, within {share:.1%}")
    assert share >= 0.9
