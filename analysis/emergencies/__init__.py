"""Person-overboard marks, beacons and distress calls, for review and training: never for use in an emergency."""

from analysis.emergencies.drift import Datum, told_rows
from analysis.emergencies.drill import Closest, Drill
from analysis.emergencies.found import Emergencies, Emergency, find_emergencies
from analysis.emergencies.marks import Fix, Mark, Overboard, UserMark

__all__ = [
    "Closest",
    "Datum",
    "Drill",
    "Emergencies",
    "Emergency",
    "Fix",
    "Mark",
    "Overboard",
    "UserMark",
    "find_emergencies",
    "told_rows",
]
