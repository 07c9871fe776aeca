"""The compass: what turned it, its constant and its deviation. A specific cause replaces the general one."""

from collections.abc import Iterator

import numpy as np
from scipy.special import chdtrc

from analysis.calibration.results import Change
from analysis.calibration.water import DEVIATION, deviation_curve_deg
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.heading import heading_causes
from analysis.findings.rivals import is_outdone
from analysis.findings.telling import clock, iso, within
from analysis.passage import Floats

# MSC.116(73) 4.3.2: a heading device is right within 1 deg at rest and 1.5 deg in a seaway.
STATIC_DEG, DYNAMIC_DEG = 1.0, 1.5
GROSS_DEG = 5.0  # the residual deviation flag states allow on any heading, RMI MN 2-011-32
SIGMAS = 3.0
CHANCE = 1e-4  # that a curve so clear comes from nothing
CARD_DEG = np.arange(0.0, 360.0, 45.0)
POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
SWING = (
    "In flat water under engine turn one full circle in five minutes or more, then one the other way: the "
    "recording of it gives the card anew."
)


def causes(case: Case) -> Iterator[Finding]:
    """What befell the compass or was done to its heading on the way."""
    disturbed = tuple(one for one in case.calibration.changes if one.name in DEVIATION)
    if disturbed:
        yield _disturbed(case, disturbed)
    else:
        yield from heading_causes(case)


def curve(case: Case) -> Iterator[Finding]:
    """Deviation and constant, where no cause explains them."""
    if not is_explained(case):
        yield from _deviation(case)
        yield from _constant(case)


def is_explained(case: Case) -> bool:
    """Tell whether a specific cause of what the heading is off by is known."""
    return any(cause.determined for cause in causes(case))


def constant_beyond_standard(case: Case) -> bool:
    """Tell whether the compass constant is surely outside the standard."""
    one = case.calibration.estimates["compass_constant_deg"]
    if not one.determined or one.value is None or one.sd is None:
        return False
    return abs(one.value) > SIGMAS * one.sd and abs(one.value) > STATIC_DEG + SIGMAS_95 * one.sd


def _constant(case: Case) -> Iterator[Finding]:
    if not constant_beyond_standard(case) or is_outdone(case, "heading_true_deg"):
        return
    one = case.calibration.estimates["compass_constant_deg"]
    value, sd = float(one.value or 0.0), float(one.sd or 0.0)
    yield Finding(
        id="compass-constant",
        subject="compass",
        severity="fault" if abs(value) > GROSS_DEG else "advice",
        title=f"The heading reads {abs(value):.1f}° too {'low' if value > 0 else 'high'} on all courses "
        f"({within(sd, '°')}).",
        value=value,
        sd=sd,
        unit="deg",
        determined=True,
        evidence={"standard_deg": STATIC_DEG, "means_used": case.calibration.used, "card": card(case)},
        action=f"Enter {value:+.1f}° as the heading offset, or turn the sensor: true = shown {value:+.1f}°.",
        verify="Steer along a charted transit both ways, two minutes each, and compare the heading with its bearing.",
        caution="Check the variation set on board first: an offset over a wrong variation goes wrong elsewhere.",
    )


def _deviation(case: Case) -> Iterator[Finding]:
    sailed = case.calibration.sailed
    if sailed is None or not sailed.courses_differ or not sailed.compass_deg:
        return
    curve = np.array([_value(case.calibration.estimates[name]) for name in DEVIATION])
    curve[0] = 0.0
    covariance = sailed.deviation_covariance[1:, 1:]
    heading = np.asarray(sailed.compass_deg)
    deviation, sd = deviation_curve_deg(heading, curve), _curve_sd(heading, covariance)
    most = int(np.argmax(np.abs(deviation) - SIGMAS_95 * sd))
    value, spread = float(deviation[most]), float(sd[most])
    clear = chdtrc(4, curve[1:] @ np.linalg.solve(covariance, curve[1:])) < CHANCE
    if not clear or abs(value) < max(SIGMAS * spread, DYNAMIC_DEG + SIGMAS_95 * spread):
        return
    point = POINTS[int(heading[most] // 45)]
    yield Finding(
        id="compass-deviation",
        subject="compass",
        severity="fault" if abs(value) > GROSS_DEG else "advice",
        title=f"The compass deviates with the heading, by {value:+.1f}° ({within(spread, '°')}) on "
        f"{heading[most]:03.0f}° ({point}).",
        value=value,
        sd=spread,
        unit="deg",
        determined=True,
        evidence={
            "card": card(case),
            "coefficients_deg": {
                name.removeprefix("deviation_").removesuffix("_deg"): case.calibration.estimates[name].value
                for name in DEVIATION
            },
            "standard_deg": DYNAMIC_DEG,
        },
        action="Run the compass's own swing or enter this deviation card (east +): "
        + ", ".join(
            f"{point} {row['deviation_deg']:+.1f}°" for point, row in zip(POINTS, card(case), strict=True)
        )
        + ".",
        verify=SWING,
        caution="Take iron, speakers and telephones away from the sensor first; what the card says of headings not "
        "sailed is a guess from the others.",
    )


def _disturbed(case: Case, changes: tuple[Change, ...]) -> Finding:
    step = [0.0] * len(DEVIATION)
    for one in changes:
        step[DEVIATION.index(one.name)] = one.after - one.before
    sailed = case.calibration.sailed
    heading = np.asarray(sailed.compass_deg if sailed is not None and sailed.compass_deg else CARD_DEG)
    turned = deviation_curve_deg(heading, step)
    most = int(np.argmax(np.abs(turned)))
    value = float(turned[most])
    sd = float(np.sqrt(np.mean([one.sd**2 for one in changes])))
    at = changes[0].at
    moment = clock(at) if at is not None else "some time"
    return Finding(
        id="compass-disturbed",
        subject="compass",
        severity="fault" if abs(value) > GROSS_DEG else "advice",
        title=f"From about {moment} to the end the compass reads up to {abs(value):.1f}° ({within(sd, '°')}) "
        f"{'lower' if value > 0 else 'higher'} than before, most near heading {heading[most]:03.0f}°.",
        value=value,
        sd=sd,
        unit="deg",
        determined=True,
        evidence={
            "at_utc": iso(at) if at is not None else None,
            "step": [
                {"compass_deg": float(h), "change_deg": float(d)}
                for h, d in zip(CARD_DEG, deviation_curve_deg(CARD_DEG, step), strict=True)
            ],
            "before_deg": {one.name: one.before for one in changes},
            "after_deg": {one.name: one.after for one in changes},
            "sd_deg": {one.name: one.sd for one in changes},
        },
        action=f"Look for what was put near the compass about {moment} (telephone, speaker, tool) and take it away.",
        verify="Steer one heading three minutes with the thing there, three without: it is to blame if COG changes.",
        caution="Enter no correction before it is found: it would be wrong once the thing is gone.",
    )


def card(case: Case) -> list[dict[str, float]]:
    """The deviation card on eight headings, as estimated."""
    curve = [_value(case.calibration.estimates[name]) for name in DEVIATION]
    sailed = case.calibration.sailed
    sd = _curve_sd(CARD_DEG, sailed.deviation_covariance) if sailed is not None else np.zeros(8)
    return [
        {"compass_deg": float(h), "deviation_deg": float(d), "deviation_deg_sd": float(s)}
        for h, d, s in zip(CARD_DEG, deviation_curve_deg(CARD_DEG, curve), sd, strict=True)
    ]


def _curve_sd(compass_deg: Floats, covariance: Floats) -> Floats:
    size = len(covariance)
    shapes = np.column_stack([deviation_curve_deg(compass_deg, row) for row in np.eye(5)[5 - size :]])
    return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", shapes, covariance, shapes)))


def _value(one: Estimate) -> float:
    return one.value if one.value is not None else 0.0
