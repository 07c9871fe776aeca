"""Faults, one at a time: FAULTS maps a name to what it does to a clean rig and what a review should say first.

Sizes are those an instrument would have at sea; each lies at or beyond the published accuracy of its kind. The
faulty instrument is alone of its kind on board: what a second, sound one makes of it is the fault of two sources
that disagree.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from . import garbling, spoiling

# Areas whose variation is 9 to 26 deg either way; a magnetic heading is far from a true one there.
VARIED = (
    "gulf of maine",
    "off chesapeake",
    "off vancouver island",
    "off california",
    "tasman",
    "hauraki",
    "cape",
)


@dataclass(frozen=True)
class Fault:
    """``inject`` is a function (rng, rig) -> rig; ``first`` holds the finding ids of which one should come first.

    ``causes``, where given, are the words of which one should name the cause of a wrong true wind.
    """

    inject: Callable
    first: tuple[str, ...]
    causes: tuple[str, ...] = ()


def either(rng, low, high):
    """A size from ``low`` to ``high``, of either sign."""
    return float(rng.choice([-1, 1]) * rng.uniform(low, high))


_SECOND = {
    "stw": "VHW2",
    "log": "VHW2",
    "heading": "HDT2",
    "compass": "HDT2",
    "deviation": "HDT2",
    "awa": "MWV-R2",
    "aws": "MWV-R2",
    "vane": "MWV-R2",
    "wind": "MWV-R2",
    "sog": "RMC2",
    "cog": "RMC2",
    "lat": "RMC2",
}


def _alone(rig, *quantities):
    """The rig without a second instrument for what is named so."""
    return rig.refit(
        rates={_SECOND[kind]: 0.0 for name in quantities if (kind := name.split("_")[0]) in _SECOND}
    )


def _spoilt(make, *of):
    """A fault of what the sensor of ``of`` shows: ``make`` draws from the generator and returns the function."""
    return lambda rng, rig: replace(_alone(rig, *of), spoil=(*rig.spoil, make(rng, rig)))


def _held(channel, low, high, *value):
    return _spoilt(lambda rng, _: spoiling.held(channel, rng.uniform(low, high), *value), channel)


def _garbled(make):
    return lambda rng, rig: replace(rig, garble=(*rig.garble, make(rng, rig)))


def _error(**draws):
    """A calibration error: each of ``draws`` is a function of the generator."""

    def inject(rng, rig):
        errors = replace(rig.errors, **{name: draw(rng) for name, draw in draws.items()})
        return replace(_alone(rig, *draws), errors=errors)

    return inject


def _by_wind(inject):
    """The crew of a grossly wrong vane does not steer by it."""

    def injected(rng, rig):
        rig = replace(rig, pilot="compass") if rig.pilot == "shown-awa" else rig
        return inject(rng, rig)

    return injected


# --- log ---------------------------------------------------------------------------------------------------------


def _zero_offset(rng, rig):
    """The log is off by 0.4 to 0.8 kn at any speed; twice on the way the boat slows down for 20 min."""
    sailed = [("wind", side * angle, 30) for side, angle in ((1, 45), (-1, 45), (1, 95), (-1, 120), (1, 60))]
    slow = [[("drift", rng.uniform(0.5, 2), 20)] for _ in range(2)]
    rig = replace(rig, orders=sailed[:2] + slow[0] + sailed[2:] + slow[1] + sailed[::-1])
    return _error(log_zero_kn=lambda rng: either(rng, 0.4, 0.8))(rng, rig)


# --- compass -----------------------------------------------------------------------------------------------------


def _off_course(rng, rig, low, high):
    """A heading error that is no multiple of the variation, which would be another fault by chance."""
    while True:
        off = either(rng, low, high)
        if abs(abs(off) - abs(rig.variation_deg)) > 2:
            return off


def _compass_constant(rng, rig):
    return _error(deviation=lambda rng: (_off_course(rng, rig, 3, 8), 0, 0, 0, 0))(rng, rig)


def _second_compass(rng, rig):
    off = _off_course(rng, rig, 5, 12)
    return _second({"HDT2": 1.0}, heading_true_deg=lambda rng: (1.0, off))(rng, rig)


def _deviation_curve(rng):
    """Semicircular deviation of 4 to 8 deg amplitude, a third of it quadrantal at most."""
    size, phase = rng.uniform(4, 8), rng.uniform(0, 2 * np.pi)
    return (
        0.0,
        size * np.sin(phase),
        size * np.cos(phase),
        rng.uniform(-0.3, 0.3) * size,
        rng.uniform(-0.15, 0.15) * size,
    )


def _magnetic_as_true(rng, rig):
    """HDT carries the magnetic heading and nothing else tells it."""
    rig = rig.placed(str(rng.choice(VARIED)))
    return rig.refit(
        variation_times=0,
        rates={"HDT": 1.0, "HDG": 0.0, "HDT2": 0.0},
        heading_fields="",
        variation_in=("RMC",),
    )


def _variation_wrong(rng, rig):
    """The boat's own variation is off by 3 to 8 deg, or has the wrong sign."""
    rig = rig.placed(str(rng.choice(VARIED)))
    off = either(rng, 3, 8) if rng.random() < 0.6 else -2 * rig.variation_deg
    return _alone(rig, "heading").refit(
        variation_deg=round(rig.variation_deg + off, 1), variation_in=("RMC", "HDG"), heading_fields="TM"
    )


def _variation_twice(rng, rig):
    """HDT is the magnetic heading plus twice the variation; half of the boats send HDG as well."""
    rig = rig.placed(str(rng.choice(VARIED)))
    beside = float(rng.random() < 0.5)
    return rig.refit(
        variation_times=2,
        rates={"HDT": 1.0, "HDG": beside, "HDT2": 0.0},
        heading_fields="TM" if beside else "T",
        variation_in=("RMC", "HDG"),
    )


def _deviation_ignored(rng, rig):
    """HDG carries the deviation its sensor heading needs; the boat's other headings leave it out."""
    curve = _deviation_curve(rng)
    rig = replace(rig, errors=replace(rig.errors, deviation=curve))
    return rig.refit(deviation_field=curve, heading_fields="TM", rates={"HDT": 1.0, "HDT2": 0.0})


def _deviation_repeated(rng, rig):
    """HDG carries a deviation that its heading already has in it, as the boat's other headings show."""
    return rig.refit(
        deviation_field=_deviation_curve(rng), heading_fields="TM", rates={"HDT": 1.0, "HDT2": 0.0}
    )


# --- the boat's own true wind ------------------------------------------------------------------------------------


def _true_wind(varied=False, **draws):
    def inject(rng, rig):
        rig = rig.placed(str(rng.choice(VARIED))) if varied else rig
        rig = rig.refit(rates={"MWV-T": 1.0, "MWD": 1.0, "MWV-R2": 0.0})
        how = {name: draw(rng) for name, draw in draws.items()}
        return rig.refit(true_wind=replace(rig.fit.true_wind, **how))

    return inject


def _over_ground(rng, rig):
    rig = replace(rig, tide_kn=rng.uniform(1.2, 2))
    return _true_wind(reference=lambda rng: "ground")(rng, rig)


def _uncorrected(rng, rig):
    """The vane has an offset of 5 to 10 deg that MWV R is free of, but the display's true wind is not."""
    return _true_wind(vane_offset_deg=lambda rng: either(rng, 5, 10))(rng, rig)


def _calibrated(rng, rig):
    """The vane has an offset of 5 to 10 deg that the display knows of, but MWV R does not."""
    rig = _error(vane_offset_deg=lambda rng: either(rng, 5, 10))(rng, rig)
    offset = rig.errors.vane_offset_deg
    return _true_wind(vane_offset_deg=lambda rng: offset)(rng, rig)


def _two_axis_log(rng, rig):
    """The log tells the speed across the keel with the wrong sign, and so the leeway."""
    return _spoilt(lambda rng, rig: spoiling.scaled("leeway_deg", -1))(rng, rig.refit(rates={"VBW": 1.0}))


# --- GNSS, depth, clock, sources ---------------------------------------------------------------------------------


def _becalmed(rng, rig):
    """An hour or more adrift at a few tenths of a knot, with a velocity noise of 0.2 to 0.35 kn."""
    sailed = [("wind", side * angle, 35) for side, angle in ((1, 60), (-1, 95), (1, 120), (-1, 50))]
    adrift = [("drift", rng.uniform(0.1, 0.4), rng.uniform(60, 110))]
    at = int(rng.integers(1, 4))
    noise = rng.uniform(0.2, 0.35)
    rig = replace(rig, orders=sailed[:at] + adrift + sailed[at:], tide_kn=rng.uniform(0, 0.15))
    return _spoilt(lambda rng, rig: spoiling.velocity_noise(noise), "sog_kn")(rng, rig)


def _with_attitude(inject):
    return lambda rng, rig: inject(rng, rig.refit(rates={"XDR-attitude": 1.0}))


def _with_barometer(inject):
    return lambda rng, rig: inject(rng, rig.refit(rates={"XDR-barometer": 0.2}))


def _barometer_unit(rng, rig):
    """A pressure in inHg or hPa written as bar, or in inHg as hPa or Pa."""
    scale, layout = [
        (1 / 33.8639, "%.2f,B"),
        (1.0, "%.1f,B"),
        (1 / 33.8639, "%.2f,H"),
        (1 / 33.8639, "%.2f,P"),
    ][int(rng.integers(0, 4))]
    return rig.refit(pressure_scale=scale, pressure_layout=layout)


def _barometer_off(rng, rig):
    """4 to 9 hPa off: what a station at sea level tells, told by no log."""
    return _spoilt(lambda rng, rig: spoiling.shifted("pressure_hpa", either(rng, 4, 9)))(rng, rig)


def _depth_offset(rng, rig):
    """The offset field of DPT changes sign or value on the way, or disagrees with DBS by 0.8 to 2.5 m."""
    rig = rig.refit(rates={"DPT": 1.0})
    if rng.random() < 0.5:
        before, after = ((0.5, -1.6), (-1.7, 0.4), (0.6, 1.6), (0.0, -1.8))[int(rng.integers(0, 4))]
        return _spoilt(lambda rng, rig: spoiling.offset_field(before, after, rng.uniform(0.25, 0.75)))(
            rng, rig
        )
    return rig.refit(rates={"DBS": 1.0}, depth_offset_m=0.5, depth_surface_m=0.5 + rng.uniform(0.8, 2.5))


def _second(rates, **draws):
    def inject(rng, rig):
        channels = {name: draw(rng) for name, draw in draws.items()}
        return rig.refit(
            rates=dict.fromkeys(("RMC2", "HDT2", "VHW2", "MWV-R2", "DPT2"), 0.0) | rates, second=channels
        )

    return inject


def _second_gnss(rng, rig):
    """The second receiver stands 0.05 to 0.3 nm away and reads SOG 6 to 12 % off."""
    off = rng.uniform(0.05, 0.3) / 60
    angle = rng.uniform(0, 2 * np.pi)
    ratio = 1 + either(rng, 0.06, 0.12)
    return _second(
        {"RMC2": 1.0},
        lat_deg=lambda rng: (1.0, off * np.cos(angle)),
        lon_deg=lambda rng: (1.0, off * np.sin(angle)),
        sog_kn=lambda rng: (ratio, 0.0),
        cog_deg=lambda rng: (1.0, 0.0),
    )(rng, rig)


def _clock(shift):
    def inject(rng, rig):
        return rig.refit(gnss_shift=shift(rng, rig))

    return inject


def _local_stamps(rng, rig):
    """A recorder that stamps each line in a local time 1 to 11 h from UTC."""
    return rig.refit(stamp=garbling.stamps(3600 * either(rng, 1, 11) // 3600 * 3600))


def _overloaded(rng, rig):
    """More sentences than a 4800 Bd port carries: bursts of them are lost and torn."""
    rig = rig.refit(
        rates={
            "HDG": 5.0,
            "MWV-R": 2.0,
            "MWV-T": 2.0,
            "VTG": 1.0,
            "GGA": 1.0,
            "XDR-attitude": 2.0,
            "MWD": 1.0,
        },
        talkers=rig.fit.talkers | dict.fromkeys(("gnss", "compass", "log", "wind", "sounder", "ship"), "II"),
    )
    return _garbled(lambda rng, rig: garbling.overloaded(480))(rng, rig)


_STUCK = ("log-stuck",)
_WATER = ("log-under-reading", "log-over-reading")
_DISAGREE = ("sources-disagree",)
_CLOCK = ("clock",)
_TRUE_WIND = ("true-wind-reference",)

FAULTS = {
    # log: 6 to 15 % (IMO: 2 % or 0.2 kn)
    "log-under-reading": Fault(_error(log_factor=lambda r: r.uniform(1.06, 1.15)), ("log-under-reading",)),
    "log-over-reading": Fault(_error(log_factor=lambda r: r.uniform(0.85, 0.94)), ("log-over-reading",)),
    "log-stuck": Fault(_held("stw_kn", 0.1, 0.7), _STUCK),
    "log-stuck-at-zero": Fault(_held("stw_kn", 0.1, 0.7, 0.0), _STUCK),
    "log-fouling": Fault(
        _spoilt(lambda r, _: spoiling.fouling(r.uniform(0.06, 0.15)), "stw_kn"), ("log-fouling",)
    ),
    "log-zero-offset": Fault(_zero_offset, ("log-zero-offset",)),
    "log-zero-offset-at-speed": Fault(
        _error(log_zero_kn=lambda r: either(r, 0.4, 0.8)), ("log-zero-offset", *_WATER)
    ),
    # compass (heading device: 1 deg static; residual deviation 5 deg)
    "compass-constant": Fault(_compass_constant, ("compass-constant",)),
    "compass-deviation": Fault(_error(deviation=_deviation_curve), ("compass-deviation",)),
    "compass-disturbed": Fault(
        _spoilt(
            lambda r, _: spoiling.disturbed(either(r, 5, 15), r.uniform(0.25, 0.75), r.uniform(0, 360)),
            "compass",
        ),
        ("compass-disturbed",),
    ),
    "heading-magnetic-as-true": Fault(_magnetic_as_true, ("heading-magnetic-as-true",)),
    "variation-wrong": Fault(_variation_wrong, ("variation-wrong",)),
    "variation-applied-twice": Fault(_variation_twice, ("variation-applied-twice",)),
    "deviation-field-ignored": Fault(_deviation_ignored, ("deviation-field-ignored",)),
    "deviation-field-repeated": Fault(_deviation_repeated, ("deviation-field-ignored",)),
    # wind (5 deg; 10 % or 0.5 m/s)
    "vane-offset": Fault(_error(vane_offset_deg=lambda r: either(r, 5, 10)), ("vane-offset",)),
    "vane-mirrored": Fault(
        _by_wind(_spoilt(lambda r, _: spoiling.scaled("awa_deg", -1), "awa_deg")), ("vane-mirrored",)
    ),
    "vane-reversed": Fault(
        _by_wind(_spoilt(lambda r, _: spoiling.shifted("awa_deg", 180), "awa_deg")), ("vane-reversed",)
    ),
    "vane-stuck": Fault(_by_wind(_held("awa_deg", 0.1, 0.7)), ("vane-stuck",)),
    "wind-speed-factor": Fault(
        _error(wind_speed_factor=lambda r: 1 + either(r, 0.15, 0.3)), ("wind-speed-factor",)
    ),
    "wind-speed-unit": Fault(
        _error(wind_speed_factor=lambda r: float(r.choice([3600 / 1852, 1 / 1.852]))), ("wind-speed-unit",)
    ),
    "wind-drop-outs": Fault(
        _spoilt(lambda r, _: spoiling.drop_outs(int(r.integers(30, 120))), "aws_kn"), ("wind-drop-outs",)
    ),
    # the boat's own true wind
    "true-wind-ground": Fault(_over_ground, _TRUE_WIND, ("ground",)),
    "true-wind-leeway": Fault(
        _true_wind(leeway_coefficient=lambda r: r.uniform(8, 14)), _TRUE_WIND, ("leeway",)
    ),
    "true-wind-magnetic": Fault(_true_wind(True, direction=lambda r: "magnetic"), _TRUE_WIND, ("magnetic",)),
    "true-wind-variation-twice": Fault(
        _true_wind(True, direction=lambda r: "twice"), _TRUE_WIND, ("variation-twice",)
    ),
    "true-wind-mirrored": Fault(_true_wind(mirrored=lambda r: True), _TRUE_WIND, ("mirrored",)),
    "true-wind-lag": Fault(_true_wind(lag_s=lambda r: r.uniform(5, 15)), _TRUE_WIND, ("lag",)),
    "true-wind-unit": Fault(
        _true_wind(speed_factor=lambda r: float(r.choice([1852 / 3600, 1.852]))), _TRUE_WIND, ("unit",)
    ),
    "true-wind-frozen-input": Fault(
        _true_wind(
            frozen=lambda r: str(r.choice(["stw_kn", "heading_true_deg", "log-zero"])),
            hold_share=lambda r: r.uniform(0.1, 0.6),
        ),
        _TRUE_WIND,
        ("frozen", "apparent"),
    ),
    "true-wind-uncorrected": Fault(_uncorrected, _TRUE_WIND, ("calibrated", "uncorrected")),
    "true-wind-calibrated": Fault(_calibrated, ("vane-offset", *_TRUE_WIND), ("calibrated", "uncorrected")),
    # leeway and heel
    "leeway-sign": Fault(_with_attitude(_two_axis_log), ("leeway-sign",)),
    "heel-sign": Fault(_with_attitude(_spoilt(lambda r, _: spoiling.scaled("heel_deg", -1))), ("heel-sign",)),
    "heel-zero": Fault(
        _with_attitude(_spoilt(lambda r, _: spoiling.shifted("heel_deg", either(r, 4, 8)))), ("heel-zero",)
    ),
    "heel-stuck": Fault(_with_attitude(_held("heel_deg", 0.1, 0.7)), ("heel-stuck",)),
    # GNSS
    "cog-noise": Fault(_becalmed, ("cog-noise",)),
    "gnss-jumps": Fault(
        _spoilt(lambda r, _: spoiling.position_jumps(int(r.integers(4, 20))), "lat_deg"), ("gnss-jumps",)
    ),
    "cog-frozen": Fault(_held("cog_deg", 0.1, 0.7), ("cog-frozen",)),
    "poor-fix": Fault(
        lambda r, rig: _spoilt(lambda r, _: spoiling.poor_fix(r.uniform(0.2, 0.5)), "lat_deg")(
            r, rig.refit(rates={"GGA": 1.0})
        ),
        ("poor-fix",),
    ),
    # air, depth, water
    "barometer-stuck": Fault(
        _with_barometer(_spoilt(lambda r, _: spoiling.held("pressure_hpa", 0.0))), ("barometer-stuck",)
    ),
    "barometer-unit": Fault(_with_barometer(_barometer_unit), ("barometer-unit",)),
    "barometer-offset": Fault(_with_barometer(_barometer_off), ("barometer-offset",)),
    "depth-offset": Fault(_depth_offset, ("depth-offset",)),
    "sounders-disagree": Fault(
        lambda r, rig: _second({"DPT2": 1.0}, depth_m=lambda r: (r.uniform(1.15, 1.4), 0.0))(
            r, rig.refit(rates={"DPT": 1.0})
        ),
        ("sounders-disagree", "sources-disagree"),
    ),
    "water-temperature": Fault(
        lambda r, rig: _spoilt(lambda r, _: spoiling.water_temperature(r.choice(["zero", "hot", "jumping"])))(
            r, rig.refit(rates={"MTW": 0.5})
        ),
        ("water-temperature",),
    ),
    # clock and line
    "clock-jump": Fault(
        _clock(lambda r, rig: garbling.jump(either(r, 600, 7200), r.uniform(0.3, 0.7))), _CLOCK
    ),
    "clock-repeated-day": Fault(
        lambda r, rig: _clock(lambda r, rig: garbling.same_day)(
            r, replace(rig, start=rig.start.replace(hour=21, minute=int(r.integers(0, 60))))
        ),
        _CLOCK,
    ),
    "clock-local-time": Fault(_local_stamps, _CLOCK),
    "checksum-errors": Fault(
        _garbled(lambda r, _: garbling.bad_characters(r.uniform(0.02, 0.1))), ("checksum-errors",)
    ),
    "port-overloaded": Fault(_overloaded, ("port-overloaded", "sentences-missing")),
    "sentences-missing": Fault(
        _garbled(lambda r, _: garbling.missing(str(r.choice(["VHW", "MWV", "HDG"])), r.uniform(0.2, 0.5))),
        ("sentences-missing", "port-overloaded"),
    ),
    # two sources of one channel
    "second-compass": Fault(_second_compass, _DISAGREE),
    "second-gnss": Fault(_second_gnss, _DISAGREE),
    "second-log": Fault(_second({"VHW2": 1.0}, stw_kn=lambda r: (1 + either(r, 0.08, 0.2), 0.0)), _DISAGREE),
    "second-wind": Fault(
        _second(
            {"MWV-R2": 1.0},
            awa_deg=lambda r: (1.0, either(r, 8, 15)),
            aws_kn=lambda r: (1 + either(r, 0.2, 0.35), 0.0),
        ),
        _DISAGREE,
    ),
}
