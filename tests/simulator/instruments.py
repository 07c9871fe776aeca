"""What the sensors make of the truth: their errors, noise, damping and delay."""

from dataclasses import dataclass

import numpy as np

from .noise import damp, swell, wander

RAD = np.pi / 180


@dataclass(frozen=True)
class Errors:
    """What the instruments are off by: true = factor x shown, true = shown + offset.

    ``upwash_deg`` is the same at 30 deg AWA, fading with the angle; the leeway is the boat's, no error.
    """

    log_factor: float = 1.0
    log_zero_kn: float = 0.0
    deviation: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    vane_offset_deg: float = 0.0
    wind_speed_factor: float = 1.0
    upwash_deg: float = 0.0
    leeway_coefficient: float = 8.0

    def shown_awa(self, awa):
        """What the vane shows of a true ``awa`` [deg]."""
        bend = self.upwash_deg * np.exp(-((abs(awa) / 55) ** 2)) / np.exp(-((30 / 55) ** 2)) * np.sign(awa)
        return awa - self.vane_offset_deg - bend


def deviation(coefficients, compass_deg):
    """Deviation [deg] of the compass headings from the coefficients A to E."""
    a, b, c, d, e = coefficients
    h = compass_deg * RAD
    return a + b * np.sin(h) + c * np.cos(h) + d * np.sin(2 * h) + e * np.cos(2 * h)


def compass_of(coefficients, magnetic_deg):
    """What a compass with this deviation shows on magnetic headings [deg]."""
    shown = magnetic_deg
    for _ in range(8):
        shown = magnetic_deg - deviation(coefficients, shown)
    return shown


def sense(rng, truth, heavy, heel_logged):
    """Return what the sensors show each second, and the step each is displayed in."""
    errors, n = truth.errors, len(truth.heading_deg)
    awa, aws = np.angle(-truth.air_kn) / RAD, abs(truth.air_kn)
    turn = np.exp(1j * truth.heading_deg * RAD)
    mast = swell(rng, n, 1.5, 5.5) if heavy else wander(rng, n, 1.5, 3)
    lag = rng.uniform(0, 2, 4)
    seen_air = aws / errors.wind_speed_factor * np.exp(1j * (errors.shown_awa(awa) + mast) * RAD)
    seen_air = damp(seen_air.real, 2, lag[0]) + 1j * damp(seen_air.imag, 2, lag[0])
    log_noise = wander(rng, n, 0.12, 9, heavy) + wander(rng, n, 0.03, 150)
    log = truth.keel_speed_kn + 0.3 * (truth.orbital_kn / turn).real
    log = log / errors.log_factor - errors.log_zero_kn + log_noise
    magnetic = np.unwrap(truth.heading_deg, period=360) - truth.variation_deg
    compass = compass_of(errors.deviation, magnetic) + truth.variation_deg
    compass = compass + wander(rng, n, 0.8, 4, heavy) + wander(rng, n, 0.25, 200)
    fix = truth.ground_kn + wander(rng, n, 0.06, 20, heavy) + 1j * wander(rng, n, 0.06, 20, heavy)
    fix = damp(fix.real, 1.5, lag[1]) + 1j * damp(fix.imag, 1.5, lag[1])
    steps = {"sog_kn": 0.1, "cog_deg": rng.choice([0.1, 1.0])}
    awa_step = rng.choice([0.1, 1.0])
    log = np.maximum(damp(log, rng.uniform(1, 6), lag[2]), 0)
    steps["stw_kn"] = rng.choice([0.01, 0.1])
    compass = damp(compass, rng.uniform(0, 1.5), lag[3], 360)
    steps |= {"heading_true_deg": rng.choice([0.1, 1.0]), "awa_deg": awa_step, "aws_kn": 0.1}
    sensed = {
        "sog_kn": abs(fix),
        "cog_deg": np.angle(fix) / RAD % 360,
        "stw_kn": log,
        "heading_true_deg": compass,
        "awa_deg": np.angle(seen_air) / RAD,
        "aws_kn": abs(seen_air),
    }
    if heel_logged:
        sensed["heel_deg"] = damp(truth.heel_deg + wander(rng, n, 2.0, 3), 1)
        steps["heel_deg"] = 0.5
    return sensed, steps
