"""A need and a spread in words."""

from analysis.estimate import Estimate, Need, spread_text


def test_a_need_is_one_sentence_with_what_to_expect():
    # 1.96 x 0.002 = 0.39 %, 1.96 x 0.5 = 0.98 deg
    runs = Need("Motor to and fro, 4 runs of 5 min each", 20, 0.002)
    assert (
        Estimate(None, None, "1", False, runs).needs
        == "Motor to and fro, 4 runs of 5 min each: then ± 0.4 %."
    )
    swing = Need("Motor 8 legs", 24, 0.5, enough=False)
    assert Estimate(0.0, 3.0, "deg", False, swing).needs == (
        "Motor 8 legs: then no better than ± 1.0°; repeat it in smoother water or a steadier wind."
    )
    assert Estimate(None, None, "s", False, Need("Tack twice more")).needs == "Tack twice more."
    assert Estimate(1.0, 0.1, "1", True).needs is None


def test_one_manoeuvre_tells_several_quantities():
    assert (
        Need("Motor 8 legs", 24, 0.5).sentence("B ± 1°", "C ± 1.2°") == "Motor 8 legs: then B ± 1°, C ± 1.2°."
    )


def test_a_spread_is_at_95_percent_in_a_unit_for_eyes():
    assert spread_text(0.01, "1") == "± 2.0 %"
    assert spread_text(1.5, "deg kn2/deg") == "± 2.9 kn²"
    assert spread_text(0.1, "kn") == "± 0.20 kn"
