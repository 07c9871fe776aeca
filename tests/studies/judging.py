"""How the findings of a recorded case are judged."""

from simulator import CLEAN, FAULTS

from analysis import Settings, review
from analysis.reading.pressure import pressure_reference


def findings_of(made, folder):
    """Review a case as a file, as a crew would, beside a station's pressure where the barometer matters."""
    path, pressures = folder / "passage.nmea", folder / "pressure.csv"
    path.write_bytes(made.nmea())
    if made.fault not in ("barometer-offset", *CLEAN):
        return review(path).findings
    pressures.write_text(made.pressure_csv(), "utf-8")
    return review(path, Settings(pressure=pressure_reference(str(pressures)))).findings


def alarms(findings):
    """The faults and advice among them."""
    return [(one.severity, one.id, one.title) for one in findings if one.severity != "note"]


def is_right(finding, fault):
    """Whether a finding names the fault, and for a wrong true wind its cause."""
    wanted = FAULTS[fault]
    if finding is None or not finding.id.startswith(wanted.first):
        return False
    if not (wanted.causes and finding.id.startswith("true-wind")):
        return True
    told = f"{finding.id} {finding.evidence.get('cause', '')}"
    return any(cause in told for cause in wanted.causes)
