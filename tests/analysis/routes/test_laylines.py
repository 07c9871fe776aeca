"""Laylines by hand calculation: a steady wind, a boat that sails 45 deg to it, a current that is known."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from analysis.earth import Position, position_at
from analysis.performance import BestAngle
from analysis.routes import Mark, OwnAngle, own_angles
from analysis.routes.ahead import STEP_S, History
from analysis.routes.laylines import Conditions, laylines_to
from analysis.routes.sailed import SailedLegs, sailing, tells

BOAT = Position(50.0, -4.0)
LEGS = SailedLegs(
    angle_deg=np.array([-45.0, 45.0, -150.0, 150.0]),
    speed_kn=np.array([6.0, 6.0, 7.0, 7.0]),
    tws_kn=np.full(4, 14.0),
    seconds=np.full(4, 1200.0),
)
NO_JUMP = {"upwind": 0.0, "downwind": 0.0}


def mark_at(east_nm, north_nm):
    lat, lon = position_at(east_nm, north_nm, *BOAT)
    return Mark("bell", float(lat), float(lon))


def steady(value, window_s, angular):
    return History(0.0, np.full(2000, complex(value)), window_s, angular, 0.05)


def found(mark, tack="starboard", set_deg=0.0, drift_kn=0.0, legs=LEGS, given=None, jump=NO_JUMP, own=()):
    now = Conditions(10_000.0, BOAT, 0.0, 14.0, 2.0, set_deg, drift_kn, 0.1, 6.0, tack)
    return laylines_to(
        mark, now, legs, steady(1.0, 300.0, True), steady(0.0, STEP_S, False), given or {}, jump, own
    )


def test_a_mark_dead_to_windward_takes_both_tacks_alike():
    """Wind from north, 45 deg, 6 kn, 4 nm: 4 / (2 cos 45) nm and 28.3 min on each tack (by hand)."""
    one = found(mark_at(0.0, 4.0))
    assert one.state == "two tacks" and one.point == "upwind"
    for line, bearing in zip(one.laylines, (315.0, 45.0), strict=True):
        assert line.bearing_deg == pytest.approx(bearing, abs=0.01)
        assert line.distance_nm == pytest.approx(4.0 / np.sqrt(2), rel=1e-4)
        assert line.time_s == pytest.approx(3600 * 4.0 / np.sqrt(2) / 6.0, rel=1e-4)
        assert 0 < line.wind_sd_deg < line.bearing_sd_deg
    assert one.to_layline is one.laylines[0]
    assert found(mark_at(0.0, 4.0), tack="port").to_layline.sailing.tack == "port"


def test_a_cross_current_turns_the_laylines():
    """3 kn to the east on 6 kn at 45 deg: 4.243 north, 4.243 -+ 3 east (by hand)."""
    one = found(mark_at(0.0, 4.0), set_deg=90.0, drift_kn=3.0)
    starboard, port = one.laylines
    assert starboard.bearing_deg == pytest.approx(360 - np.degrees(np.arctan(1.24264 / 4.24264)), abs=0.01)
    assert port.bearing_deg == pytest.approx(np.degrees(np.arctan(7.24264 / 4.24264)), abs=0.01)
    assert port.speed_kn == pytest.approx(np.hypot(7.24264, 4.24264), abs=1e-3)
    hours = (starboard.time_s + port.time_s) / 3600
    assert hours == pytest.approx(4.0 / 4.24264, rel=1e-3)  # both tacks make the same northing
    assert starboard.speed_kn * starboard.time_s > port.speed_kn * 0.5 * port.time_s


def test_downwind_the_same():
    """Wind from north, 150 deg, 7 kn: made good 7 cos 30 kn to the south."""
    one = found(mark_at(0.0, -4.0))
    assert one.point == "downwind" and one.state == "two tacks"
    assert sum(line.time_s for line in one.laylines) == pytest.approx(
        3600 * 4 / (7 * np.cos(np.radians(30))), rel=1e-3
    )


def test_a_mark_on_the_beam_is_laid_already():
    one = found(mark_at(5.0, 0.0), set_deg=180.0, drift_kn=1.0)
    assert one.state == "fetched" and one.to_layline is None
    assert one.direct is not None  # 1 kn to the south on 6 kn: steer asin(1/6) above east
    assert one.direct.course_deg == pytest.approx(90 - np.degrees(np.arcsin(1 / 6)), abs=0.01)
    assert one.direct.speed_kn == pytest.approx(6 * np.cos(np.arcsin(1 / 6)), abs=1e-3)


@pytest.mark.parametrize("drift_kn", [3.0, 3.5, 4.0])
def test_a_mark_upstream_of_a_current_stronger_than_her_way_to_windward_is_out_of_reach(drift_kn):
    """4 kn at 45 deg make 2.83 kn to windward (by hand): less than the stream, so either tack leads away."""
    slow = SailedLegs(LEGS.angle_deg, np.full(4, 4.0), np.full(4, 8.0), LEGS.seconds)
    now = Conditions(10_000.0, BOAT, 0.0, 8.0, 2.0, 180.0, drift_kn, 0.1, 4.0, "starboard")
    histories = steady(1.0, 300.0, True), steady(0.0, STEP_S, False)

    def to(mark):
        return laylines_to(mark, now, slow, *histories, {}, NO_JUMP)

    upwind = to(mark_at(0.0, 6.0))
    assert upwind.state == "not determined" and "carries her away" in upwind.reason
    assert upwind.direct is None and not upwind.laylines and upwind.drift_kn == drift_kn
    downstream = to(mark_at(0.0, -6.0))  # the way back needs no beating
    assert (downstream.state, downstream.point) == ("two tacks", "downwind")


def test_on_the_layline_within_the_uncertainty():
    assert found(mark_at(-3.0, 3.05)).state == "on the layline"


def test_what_is_not_known_is_said():
    upwind_only = SailedLegs(
        *(getattr(LEGS, name)[:2] for name in ("angle_deg", "speed_kn", "tws_kn", "seconds"))
    )
    one = found(mark_at(0.0, -4.0), legs=upwind_only)
    assert one.state == "not determined" and "no steady leg downwind" in one.reason
    assert found(mark_at(0.0, -4.0), legs=upwind_only, given={"downwind": 150.0}).state == "two tacks"
    assert "beyond 200 nm" in found(mark_at(0.0, 210.0)).reason
    assert "current stops" in found(mark_at(0.0, 4.0), set_deg=135.0, drift_kn=6.0).reason


def test_the_polar_tells_where_no_leg_was_sailed_and_the_user_and_legs_come_first():
    none = SailedLegs(*(np.empty(0) for _ in range(4)))
    own = (OwnAngle("upwind", 14.0, 42.0, 1.5, 6.5, 0.1), OwnAngle("upwind", 25.0, 38.0, 1.5, 7.0, 0.1))
    by_polar, sailed, given = (
        found(mark_at(0.0, 4.0), legs=legs, given=wish, own=own).laylines[0].sailing
        for legs, wish in ((none, {}), (LEGS, {}), (LEGS, {"upwind": 50.0}))
    )
    assert (by_polar.source, by_polar.angle_deg, by_polar.speed_kn) == ("polar", 42.0, 6.5)
    # 1.5 of the polar, 3 of one leg to the next, 2 of the wind
    assert by_polar.angle_sd_deg == pytest.approx(np.sqrt(1.5**2 + 3**2 + 2**2))
    assert (sailed.source, given.source, given.angle_deg) == ("sailed", "given", 50.0)
    assert tells(LEGS, "upwind") and not tells(none, "upwind")
    far_off = found(mark_at(0.0, 4.0), legs=none, own=own[1:])  # 25 kn is no wind like 14
    assert far_off.state == "not determined"


def test_the_polar_s_angle_is_of_the_course_through_the_water():
    best = (
        BestAngle(12.0, True, 43.0, 1.0, 4.4, 0.05, ""),
        BestAngle(12.0, False, None, None, None, None, "not bracketed"),
    )
    polar = SimpleNamespace(sailed=SimpleNamespace(best=best), errors=SimpleNamespace(leeway_deg=0.5))
    frame = pd.DataFrame({"twa_water_deg": [43.0, -45.0, 90.0], "leeway_deg": [-4.0, 4.0, 0.0]})
    (one,) = own_angles(polar, frame)
    assert (one.point, one.tws_kn) == ("upwind", 12.0)
    assert one.angle_deg == pytest.approx(47.0)
    assert one.angle_sd_deg == pytest.approx(np.hypot(1.0, 0.5))
    assert one.speed_kn == pytest.approx(4.4 / np.cos(np.radians(43)))
    assert own_angles(SimpleNamespace(sailed=None), frame) == ()


def test_an_unsure_jump_counts_on_the_other_tack_only():
    plain, jumping = found(mark_at(0.0, 4.0)), found(mark_at(0.0, 4.0), jump={"upwind": 5.0, "downwind": 0.0})
    assert jumping.laylines[0].bearing_sd_deg == pytest.approx(plain.laylines[0].bearing_sd_deg)
    assert jumping.laylines[1].angle_sd_deg > np.hypot(plain.laylines[1].angle_sd_deg, 4.9)


def test_legs_of_the_other_tack_are_mirrored_and_reaches_left_out():
    legs = SailedLegs(
        np.array([-44.0, -46.0, -60.0]), np.array([6.0, 6.0, 7.0]), np.full(3, 14.0), np.full(3, 600.0)
    )
    own = sailing(legs, "upwind", "starboard", 14.0, 2.0)
    other = sailing(legs, "upwind", "port", 14.0, 2.0)
    assert own.angle_deg == pytest.approx(45.0) and own.legs == 2 and not own.mirrored
    assert other.mirrored and other.angle_deg == own.angle_deg
    assert other.angle_sd_deg == pytest.approx(np.hypot(own.angle_sd_deg, 4.0))


def test_a_history_tells_how_far_it_wanders():
    """A random walk of 8 deg per root hour: over the next half hour as theory says, within a third."""
    rng = np.random.default_rng(3)
    steps = np.cumsum(rng.normal(0, np.radians(8.0) * np.sqrt(STEP_S / 3600), 360 * 24))
    history = History(0.0, np.exp(1j * steps), 60.0, True, np.radians(8.0))
    theory = 8.0 * np.sqrt((1800 / 3 + 60 / 3) / 3600)
    assert np.degrees(history.ahead_sd(0.0, 1800.0)) == pytest.approx(theory, rel=0.33)
    assert history.ahead_sd(3600.0, 1800.0) > history.ahead_sd(0.0, 1800.0)
    assert history.ahead_sd(0.0, 864000.0) > history.ahead_sd(0.0, 86400.0)
    assert history.now(-100.0) is None
