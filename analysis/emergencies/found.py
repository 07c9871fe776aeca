"""All marks and calls of a passage, each with what drifted from it and what the boat then did."""

from dataclasses import dataclass, replace

import pandas as pd

from analysis.calibration.results import CurrentSeries
from analysis.emergencies.beacons import marks_of_ais, own_identities
from analysis.emergencies.calls import marks_of_calls
from analysis.emergencies.drift import FAR_NM, Datum, current_of, drifted, wind_of
from analysis.emergencies.drill import Drill, review_drill
from analysis.emergencies.marks import Mark, Overboard, user_marks
from analysis.passage import Passage

NO_POSITION = "it has no position"
NO_CURRENT = "no current is known: that takes log, heading, SOG and COG"
NO_TRACK = (
    f"the recording ends with it, or the boat was more than {FAR_NM:.0f} nm off, in another current and wind"
)
NOT_ADRIFT = "nobody is told to be in distress"


@dataclass(frozen=True)
class Emergency:
    """A mark or call; ``datum`` is None for the reason ``why``, ``drill`` where the boat was not concerned."""

    mark: Mark
    datum: Datum | None
    why: str | None
    drill: Drill | None

    @property
    def back_s(self) -> float | None:
        """Seconds after the mark when the boat was back; None where she did not come back, or it is not known."""
        return None if self.drill is None else self.drill.back_s


@dataclass(frozen=True)
class Emergencies:
    """Every mark and call in order of time."""

    all: tuple[Emergency, ...]


def marks_heard(passage: Passage) -> tuple[Mark, ...]:
    """Find the marks and calls that a log itself holds."""
    own = own_identities(passage.ais)
    calls = (
        replace(call, another=bool(own) and call.kind == "DSC call" and call.who not in own)
        for call in marks_of_calls(passage.events)
    )
    return (*calls, *marks_of_ais(passage.ais))


def find_emergencies(
    heard: tuple[Mark, ...], frame: pd.DataFrame, current: CurrentSeries | None, asked: Overboard
) -> Emergencies:
    """Put the marks of a log and of the user in order, and drift each alert by the current and wind of ``frame``.

    ``frame`` is the corrected and derived one, ``current`` the estimated series where there is one.
    """
    marks = [*user_marks(asked, frame), *heard]
    if not marks:
        return Emergencies(())
    flow, wind = current_of(frame, current), wind_of(frame)
    found = []
    for mark in sorted(marks, key=lambda one: one.start_s):
        datum, why = None, None
        if not mark.alert:
            why = NOT_ADRIFT
        elif not mark.fixes:
            why = NO_POSITION
        elif flow is None:
            why = NO_CURRENT
        else:
            datum = drifted(mark.fixes, mark.adrift, frame, flow, wind)
            why = NO_TRACK if datum is None else None
        drill = (
            review_drill(mark, datum, frame)
            if mark.adrift == "person" and (mark.alert or mark.test) and not mark.another
            else None
        )
        found.append(Emergency(mark, datum, why, drill))
    return Emergencies(tuple(found))
