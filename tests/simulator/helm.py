"""The rudder of a voyage: what turned her as she turned, the helm she carries, and a sensor with its errors."""

from dataclasses import dataclass

import numpy as np

from .noise import step, wander


@dataclass(frozen=True)
class Helm:
    """``offset_deg`` corrects the sensor: true = shown + offset. ``play_deg`` is the width of its dead band.

    The boat turns ``gain`` deg/s per degree of rudder at 6 kn, in proportion to her speed, with a time constant
    ``settle_s``. ``weather`` is rudder for each degree of heel, ``boom_deg`` what the sails ask on a broad reach,
    ``trim_deg`` the one-sigma of what differs from order to order.
    """

    offset_deg: float = 0.0
    gain: float = 0.4
    settle_s: float = 1.5
    weather: float = 0.2
    boom_deg: float = 1.0
    trim_deg: float = 0.3
    play_deg: float = 0.0
    resolution_deg: float = 0.1
    reversed: bool = False


def draw_helm(rng):
    """A plausible boat and a sensor that is off."""
    return Helm(
        offset_deg=rng.normal(0, 3),
        gain=rng.uniform(0.25, 0.7),
        settle_s=rng.uniform(0.8, 2.5),
        weather=rng.uniform(0.0, 0.35),
        boom_deg=rng.uniform(-0.5, 2),
        trim_deg=rng.uniform(0.1, 0.5),
        resolution_deg=float(rng.choice([0.1, 0.1, 0.5, 1.0])),
    )


def rudder_shown(rng, voyage, helm):
    """The rudder angle [deg] the sensor shows each second of a voyage."""
    truth = voyage.truth
    n = len(truth.heading_deg)
    steered = np.unwrap(truth.heading_deg, period=360)
    steered = np.convolve(np.pad(steered, 6, mode="edge"), np.hanning(15)[1:-1] / 7, mode="valid")
    rate = np.gradient(steered)
    gain = helm.gain * np.maximum(truth.keel_speed_kn, 1.5) / 6
    turning = (rate + helm.settle_s * np.gradient(rate)) / gain
    side = np.sin(np.angle(-truth.air_kn))  # + where the wind comes from starboard
    ends = np.cumsum([60 * order[2] for order in voyage.orders])
    order = np.minimum(np.searchsorted(ends, np.arange(n), side="right"), len(ends) - 1)
    trim = rng.normal(0, helm.trim_deg, len(ends))[order] * side
    carried = helm.weather * truth.heel_deg - helm.boom_deg * side + trim
    true = turning + carried + wander(rng, n, 0.6, 5) + wander(rng, n, 0.2, 600)
    true = np.clip(true, -35, 35)
    return measured_rudder(rng, true, helm)


def measured_rudder(rng, true_deg, helm):
    """What the sensor makes of the true rudder: dead band, offset, sign, noise, last digit."""
    held, at = np.empty_like(true_deg), true_deg[0]
    for i, value in enumerate(true_deg.tolist()):
        at = min(max(at, value - helm.play_deg / 2), value + helm.play_deg / 2)
        held[i] = at
    shown = held - helm.offset_deg + rng.normal(0, 0.1, len(held))
    return step(-shown if helm.reversed else shown, helm.resolution_deg)
