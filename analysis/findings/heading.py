"""What was done to the heading on its way: variation left out, wrong or applied twice, deviation ignored."""

from collections.abc import Iterator

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.telling import within
from analysis.vectors import wrap_signed_deg

LEAST_VARIATION_DEG = 1.5  # less is not told apart from the 1 deg that MSC.116(73) allows a heading
NEAR_DEG = 0.6  # the World Magnetic Model is good to about half a degree at sea (NCEI, from memory)
GROSS_DEG = 5.0  # the residual deviation flag states allow on any heading, RMI MN 2-011-32
STATIC_DEG = 1.0
ALL_OF_IT = 0.35  # a share of the logged deviation this near to 0 or 1 is taken for it
COMPARE = "Point the boat along a charted transit for a minute: true heading and bearing must agree."


def heading_causes(case: Case) -> Iterator[Finding]:
    """Errors of the heading that are no fault of the compass."""
    ignored = list(_deviation_ignored(case))
    yield from ignored
    wrong = list(_variation_wrong(case))
    yield from wrong
    if not ignored and not wrong:
        yield from _variation_misapplied(case)


def _variation_wrong(case: Case) -> Iterator[Finding]:
    fact = next((one for one in case.passage.facts if one.id == "variation-differs"), None)
    if fact is None:
        return
    logged, model = float(fact.numbers["logged_deg"]), float(fact.numbers["model_deg"])
    off = float(wrap_signed_deg(model - logged))
    variation = case.headings.variation_deg
    used = "log" if abs(variation - logged) < abs(variation - model) else "model"
    constant = _constant(case)
    # with the log's variation in use its error is the compass constant, with the model's there is none left
    confirmed = constant is not None and abs(constant[0] - (off if used == "log" else 0.0)) < _slack(
        constant[1]
    )
    denied = constant is not None and abs(constant[0] - (0.0 if used == "log" else -off)) < _slack(
        constant[1]
    )
    if (denied and not confirmed) or (not confirmed and abs(off) < LEAST_VARIATION_DEG + NEAR_DEG):
        return
    flipped = abs(wrap_signed_deg(logged + model)) < NEAR_DEG and abs(model) > LEAST_VARIATION_DEG
    yield Finding(
        id="variation-wrong",
        subject="compass",
        severity="fault" if abs(off) > GROSS_DEG else "advice",
        title=f"The variation on board, {_east(logged)}, is off by {abs(off):.1f}° ({within(NEAR_DEG / 2, '°')}); "
        f"the World Magnetic Model has {_east(model)}" + (": the sign is wrong." if flipped else "."),
        value=off,
        sd=NEAR_DEG / 2,
        unit="deg",
        determined=confirmed,
        evidence={
            "logged_deg": logged,
            "model_deg": model,
            "sign_wrong": bool(flipped),
            "compass_constant_deg": constant[0] if constant else None,
            "compass_constant_deg_sd": constant[1] if constant else None,
            "confirmed_by_the_passage": bool(confirmed),
        },
        action=f"Set the variation to {_east(model)} or to automatic.",
        verify="Compare the variation shown with that of the chart's rose, brought up to this year.",
        caution="True headings, true wind directions and the current in other displays carry the same error.",
    )


def _variation_misapplied(case: Case) -> Iterator[Finding]:
    """A heading off by the variation; one of a compass that knows true north by itself is off by chance."""
    headings = case.headings
    variation = headings.variation_deg
    if abs(variation) < LEAST_VARIATION_DEG:
        return
    for one in headings.sources:
        if one.key.channel != "heading_true_deg" or one.own_north:
            continue
        if abs(one.off_deg + variation) < NEAR_DEG:
            yield _left_out(variation, one.sd_deg, one.key.formatter, None)
            return
        if abs(one.off_deg - variation) < NEAR_DEG:
            yield _twice(variation, one.sd_deg, one.key.formatter, None)
            return
    constant = _constant(case)
    if constant is None or headings.from_magnetic or headings.own_north or abs(constant[0]) < STATIC_DEG:
        return
    value, sd = constant
    source = next(
        (
            one.key.formatter
            for one in case.passage.sources
            if one.chosen and one.key.channel == "heading_true_deg"
        ),
        "",
    )
    if abs(value - variation) < _slack(sd):
        yield _left_out(variation, sd, source, value)
    elif abs(value + variation) < _slack(sd):
        yield _twice(variation, sd, source, value)


def _left_out(variation: float, sd: float, source: str, constant: float | None) -> Finding:
    return Finding(
        id="heading-magnetic-as-true",
        subject="compass",
        severity="fault" if abs(variation) > GROSS_DEG else "advice",
        title=f"The heading in {source} is called true but is magnetic: it lacks the variation of {_east(variation)} "
        f"({within(max(sd, 0.05), '°')}).",
        value=variation,
        sd=sd,
        unit="deg",
        determined=True,
        evidence={"variation_deg": variation, "source": source, "compass_constant_deg": constant},
        action="Set the compass or the display to send true heading, or to send magnetic heading as such (HDM, HDG).",
        verify=COMPARE,
        caution="Wind directions and currents worked out from this heading are turned by the variation.",
    )


def _twice(variation: float, sd: float, source: str, constant: float | None) -> Finding:
    return Finding(
        id="variation-applied-twice",
        subject="compass",
        severity="fault" if abs(variation) > GROSS_DEG else "advice",
        title=f"The true heading in {source} holds the variation of {_east(variation)} twice "
        f"({within(max(sd, 0.05), '°')}).",
        value=-variation,
        sd=sd,
        unit="deg",
        determined=True,
        evidence={"variation_deg": variation, "source": source, "compass_constant_deg": constant},
        action="Switch the variation off in one of the two places that apply it, the compass or the display.",
        verify=COMPARE,
        caution="Wind directions and currents worked out from this heading are turned by the variation.",
    )


def _deviation_ignored(case: Case) -> Iterator[Finding]:
    estimated, most = case.headings.deviation_share, case.headings.deviation_deg
    in_use = next(
        (
            one.key.formatter
            for one in case.passage.sources
            if one.chosen and one.key.channel == "heading_mag_deg"
        ),
        "",
    )
    others = sorted(
        {
            one.key.formatter
            for one in case.headings.sources
            if one.share_of_deviation is not None and abs(abs(one.share_of_deviation) - 1) < ALL_OF_IT
        }
    )
    if most < STATIC_DEG or (not others and (estimated is None or abs(abs(estimated) - 1) > ALL_OF_IT)):
        return
    has_it = estimated is not None and (
        abs(estimated + 1) < ALL_OF_IT if in_use == "HDG" else abs(estimated) < ALL_OF_IT
    )
    known = estimated is not None
    if has_it:
        title = f"The deviation of up to {most:.1f}° in HDG is already in its heading; applied again it spoils it."
        action = (
            "Empty the deviation card of the compass, or switch its correction off in one of the two places."
        )
    else:
        leaving = f" ({', '.join(others)})" if others else ""
        title = f"The deviation of up to {most:.1f}° that HDG carries is left out of other headings{leaving}."
        action = "Set the displays to apply the deviation of HDG, or have the compass itself apply it and send none."
    yield Finding(
        id="deviation-field-ignored",
        subject="compass",
        severity="fault" if most > GROSS_DEG else "advice",
        title=title,
        value=most,
        sd=None,
        unit="deg",
        determined=known,
        evidence={
            "largest_deviation_deg": most,
            "heading_in_use": in_use,
            "share_of_it_that_the_passage_asks_for": estimated,
            "sources_that_differ_by_it": others,
        },
        action=action,
        verify="Under engine turn one full circle in five minutes: the current must not turn with the boat.",
        caution="Sensor heading, magnetic heading and true heading are three things: magnetic = sensor + deviation.",
    )


def _constant(case: Case) -> tuple[float, float] | None:
    """Compass constant and its one-sigma where determined."""
    one = case.calibration.estimates["compass_constant_deg"]
    return (one.value, one.sd) if one.determined and one.value is not None and one.sd is not None else None


def _slack(sd: float) -> float:
    return float(np.hypot(SIGMAS_95 * sd, NEAR_DEG))


def _east(angle: float) -> str:
    return f"{abs(angle):.1f}° {'E' if angle >= 0 else 'W'}"
