"""Person-overboard marks, beacons and distress calls, for review and training: never for use in an emergency."""

from analysis.emergencies.calls import unplaced_calls
from analysis.emergencies.drift import Datum, told_rows
from analysis.emergencies.drill import Closest, Drill
from analysis.emergencies.found import Emergencies, Emergency, find_emergencies, marks_heard
from analysis.emergencies.marks import Fix, Mark, Overboard, UserMark
from analysis.emergencies.picture import Picture, picture_of

__all__ = [
    "Closest",
    "Datum",
    "Drill",
    "Emergencies",
    "Emergency",
    "Fix",
    "Mark",
    "Overboard",
    "Picture",
    "UserMark",
    "find_emergencies",
    "marks_heard",
    "picture_of",
    "told_rows",
    "unplaced_calls",
]
