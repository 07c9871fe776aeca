"""What is said of the boat's own true wind, from accounts made by hand."""

import json
from types import SimpleNamespace

import pytest

from analysis.findings import SEVERITIES
from analysis.findings.true_wind import _CAUSES, true_wind
from analysis.logged_wind import Hypothesis, LoggedWind
from analysis.logged_wind.explain import WORDS


def found(*causes, effect_deg=8.0, effect_share=0.0, numbers=None, **changes):
    """The finding on these causes, after what every finding must obey."""
    name = "+".join(causes) or "water"
    best = Hypothesis(name, causes, "in words", 0.9, 0.1, 0.8, 12.0, numbers or {})
    told = {
        "hypotheses": (best,), "determined": True, "untold": (), "lag_s": 4.0, "lag_sd_s": 0.5, "delay_s": 0.0,
        "effect_deg": effect_deg, "effect_deg_sd": 0.4, "effect_share": effect_share, "effect_share_sd": 0.01,
        "variation_deg": -12.5, "angle_logged": True, "hours": 3.0,
    } | changes  # fmt: skip
    (one,) = true_wind(SimpleNamespace(logged_wind=LoggedWind(**told)))
    assert one.id == "true-wind-reference"
    assert one.severity in SEVERITIES
    assert one.title.endswith(".") and one.action and one.verify and "_" not in one.title
    json.dumps(dict(one.evidence), allow_nan=False)
    return one


def test_every_way_has_its_words():
    assert set(_CAUSES) == set(WORDS)
    for name in set(_CAUSES) - {"water", "lag"}:  # a lag is told by its number
        assert _CAUSES[name].does in found(name).title


def test_nothing_is_said_without_a_logged_true_wind():
    assert not list(true_wind(SimpleNamespace(logged_wind=None)))


@pytest.mark.parametrize(
    ("causes", "severity"),
    [
        ((), "note"),
        (("leeway-taken-in",), "note"),
        (("heel",), "note"),
        (("ground",), "advice"),
        (("calibrated",), "advice"),
        (("magnetic",), "fault"),
        (("mirrored",), "fault"),
        (("frozen-log",), "fault"),
        (("ground", "magnetic"), "fault"),
    ],
)
def test_the_graver_cause_sets_the_severity(causes, severity):
    assert found(*causes).severity == severity


def test_a_small_effect_is_less_grave():
    assert found("magnetic", effect_deg=3.0).severity == "advice"
    assert found("magnetic", effect_deg=0.5).severity == "note"
    assert found("calibrated", effect_deg=3.0).severity == "note"
    assert found("unit", effect_deg=0.1, effect_share=0.48).severity == "fault"


def test_only_a_large_lag_is_worth_advice():
    assert found("lag", lag_s=8.0, delay_s=2.0).severity == "note"
    assert found("lag", lag_s=18.0, delay_s=2.0).severity == "advice"
    late = found("lag", lag_s=9.0, delay_s=6.0)
    assert late.severity == "advice"
    assert "is 9 ± 1 s late" in late.title


def test_what_is_not_determined_stays_a_note_and_says_so():
    one = found("ground", determined=False, untold=("water",))
    assert one.severity == "note" and not one.determined
    assert "does not tell" in one.title


def test_a_wind_direction_alone_may_be_over_the_ground():
    assert found("ground", angle_logged=False).severity == "note"


def test_the_title_holds_the_numbers():
    assert "8.0 ± 0.8°" in found("magnetic").title
    assert "variation 12.5° W" in found("magnetic").title
    stuck = found("frozen-log", numbers={"stw_kn": 6.2, "since_utc": "2026-05-01T10:35:00+00:00"})
    assert "6.2 kn, since 10:35 UTC" in stuck.title
    assert "by 48 ± 2 %" in found("unit", effect_deg=0.1, effect_share=0.48).title
