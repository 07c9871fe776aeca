"""Each instrument at a glance: wrong, off, in order, or not to be told from this passage."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings import Finding

Word = Literal["wrong", "off", "in order", "not told", "nothing found", "not recorded"]
ORDER: tuple[Word, ...] = ("wrong", "off", "not told", "in order", "nothing found", "not recorded")


class _Instrument(NamedTuple):
    """What an instrument is called in findings, the channels it gives, and the correction that judges it.

    ``probably`` is the id of the finding that, as a note, says it is probably off.
    """

    name: str
    channels: tuple[str, ...]
    correction: str = ""
    probably: str = ""


INSTRUMENTS = (
    _Instrument("log", ("stw_kn",), "log_factor"),
    _Instrument("compass", ("heading_true_deg", "heading_mag_deg"), "compass_constant_deg"),
    _Instrument("wind vane", ("awa_deg",), "vane_offset_deg", "vane-offset"),
    _Instrument("anemometer", ("aws_kn",), "wind_speed_factor", "wind-speed-factor"),
    _Instrument("GNSS receiver", ("lat_deg", "sog_kn", "cog_deg")),
    _Instrument("heel sensor", ("heel_deg",)),
    _Instrument("echo sounder", ("depth_m", "depth_surface_m", "depth_keel_m")),
    _Instrument("barometer", ("air_pressure_hpa",), "barometer_offset_hpa"),
    _Instrument("water temperature", ("water_temp_c",)),
    _Instrument("rudder sensor", ("rudder_deg", "rudder_port_deg"), "rudder_offset_deg"),
)
SPOKEN = {"wind speed": "anemometer", "sounder": "echo sounder", "true wind": "display of the true wind"}
ALARMS = ("fault", "advice")


@dataclass(frozen=True)
class Verdict:
    """What the passage says of one instrument.

    ``findings`` are the numbers, in the order given, of the faults and advice about it; ``within`` is the bound
    (95 %) below which a determined correction lies, in ``unit``, None where there is none.
    """

    instrument: str
    word: Word
    findings: tuple[int, ...] = ()
    within: float | None = None
    unit: str = ""
    needs: str = ""


def verdicts(
    findings: Sequence[Finding], estimates: Mapping[str, Estimate], logged: Sequence[str]
) -> tuple[Verdict, ...]:
    """Judge every instrument by the findings, else by its correction; the worst first, then as the findings go.

    ``estimates`` are what remains to be corrected, ``logged`` the channels the log has readings of. What findings
    speak of beyond the instruments (the clock, the line, the true wind) comes in only where it is off.
    """
    alarms: dict[str, list[int]] = {}
    for number, one in enumerate(findings):
        if one.severity in ALARMS:
            alarms.setdefault(SPOKEN.get(one.subject, one.subject), []).append(number)
    known = [
        _judged(instrument, alarms.pop(instrument.name, []), findings, estimates, set(logged))
        for instrument in INSTRUMENTS
    ]
    others = [Verdict(name, _alarm(findings, numbers), tuple(numbers)) for name, numbers in alarms.items()]
    return tuple(
        sorted([*known, *others], key=lambda one: (ORDER.index(one.word), min(one.findings, default=0)))
    )


def _judged(
    instrument: _Instrument,
    alarms: list[int],
    findings: Sequence[Finding],
    estimates: Mapping[str, Estimate],
    logged: set[str],
) -> Verdict:
    if alarms:
        return Verdict(instrument.name, _alarm(findings, alarms), tuple(alarms))
    if not logged & set(instrument.channels):
        return Verdict(instrument.name, "not recorded")
    one = estimates.get(instrument.correction)
    if one is None:
        return Verdict(instrument.name, "nothing found")
    likely = tuple(number for number, found in enumerate(findings) if found.id == instrument.probably)
    if likely or not one.determined or one.value is None or one.sd is None:
        return Verdict(instrument.name, "not told", likely, needs=one.needs or "")
    off = abs(one.value - (1.0 if one.unit == "1" else 0.0))
    return Verdict(instrument.name, "in order", within=off + SIGMAS_95 * one.sd, unit=one.unit)


def _alarm(findings: Sequence[Finding], numbers: Sequence[int]) -> Word:
    return "wrong" if any(findings[number].severity == "fault" for number in numbers) else "off"
