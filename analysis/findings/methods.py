"""What the passage leaves open, and where two methods do not agree."""

from collections.abc import Iterator

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.telling import listed

SIGMAS = 3.0
# Differences that matter: the log standard of 2 %, IMO A.824(19), and twice the 1 deg of MSC.116(73).
MATTERS = {"log_factor": 0.02, "compass_constant_deg": 2.0}
INSTRUMENTS = {
    "log_factor": ("log", "stw_kn"),
    "compass_constant_deg": ("compass", "heading_true_deg"),
    "vane_offset_deg": ("wind vane", "awa_deg"),
    "wind_speed_factor": ("wind speed", "aws_kn"),
}


def disagree(case: Case) -> Iterator[Finding]:
    """A classical method whose answer lies outside that of the joint estimate."""
    for one in case.calibration.evidence:
        joint = case.calibration.estimates.get(one.subject)
        if (
            one.subject not in MATTERS
            or one.name == "joint estimate"
            or joint is None
            or not joint.determined
        ):
            continue
        if joint.value is None or joint.sd is None:
            continue
        off = one.value - joint.value
        sd = (one.sd**2 + joint.sd**2) ** 0.5
        if abs(off) < max(SIGMAS * sd, MATTERS[one.subject]):
            continue
        word = INSTRUMENTS[one.subject][0]
        size = f"{100 * abs(off):.1f} %" if joint.unit == "1" else f"{abs(off):.1f}°"
        spread = f"± {100 * SIGMAS_95 * sd:.1f} %" if joint.unit == "1" else f"± {SIGMAS_95 * sd:.1f}°"
        yield Finding(
            id="methods-disagree",
            subject=word,
            severity="note",
            title=f"The {one.name} and the whole passage differ by {size} ({spread}) on the {word}.",
            value=off,
            sd=sd,
            unit=joint.unit,
            determined=True,
            evidence={
                "method": one.name,
                "method_value": one.value,
                "method_sd": one.sd,
                "passage_value": joint.value,
                "passage_sd": joint.sd,
            },
            action="Take the value of the whole passage; look at what was different during the runs or the turn.",
            verify="Repeat the runs or the turn in slack water, under engine and upright.",
            caution="",
        )
        return


def left_open(case: Case) -> Iterator[Finding]:
    """Instruments that this passage cannot judge, and the manoeuvre that would: one note for all."""
    if case.calibration.sailed is None:
        return
    found = [
        (name, word, case.calibration.estimates[name])
        for name, (word, channel) in INSTRUMENTS.items()
        if channel in case.passage.frame and name in case.calibration.estimates
    ]
    unknown = [(name, word, one) for name, word, one in found if not one.determined and one.needs]
    if not unknown:
        return
    words = [word for _, word, _ in unknown]
    yield Finding(
        id="not-determined",
        subject="passage",
        severity="note",
        title=f"This passage cannot tell what the {listed(words)} {'is' if len(words) == 1 else 'are'} off by.",
        value=None,
        sd=None,
        unit="",
        determined=False,
        evidence={name: one.needs for name, _, one in unknown},
        action=f"To tell the {words[0]}: {unknown[0][2].needs}",
        verify="Open the recording of that manoeuvre here.",
        caution="What is derived from these instruments is as shown, with the uncertainty of instruments in order.",
    )
