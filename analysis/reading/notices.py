"""What an AIS transponder says of itself in ALR and TXT: alarms and texts, each when it changes.

Layouts: IEC 61162-1, from memory. ALR: time, number, condition (A past its limit), acknowledged, text. TXT: total,
number, identifier, text.
"""

from collections.abc import Sequence

import numpy as np

from analysis.passage import Ints
from analysis.reading.calls import Event
from analysis.reading.decoding import Columns
from analysis.reading.framing import Frames

FORMATTERS = ("ALR", "TXT")
_TALKERS = ("AI",)


def notices(frames: Frames, rows: Ints, talkers: Sequence[str], formatter: str) -> list[Event]:
    """Read the sentences of transponders among ``rows`` as events, none twice in a row."""
    mine = [at for at, talker in enumerate(talkers) if talker in _TALKERS]
    columns = Columns(frames, rows)
    said: dict[str, str] = {}
    events = []
    for at in mine:
        if formatter == "ALR":
            number, state, words = (columns.text(field, at) for field in (2, 3, 5))
            kind = "transponder alarm"
            text = f"{words or f'alarm {number}'}{'' if state == 'A' else ' cleared'}"
            news = state == "A" or number in said
        else:
            number, words = columns.text(3, at), columns.text(4, at)
            kind, text, news = "transponder text", words or f"text {number}", True
        if said.get(number) != text and news:
            events.append(Event(int(rows[at]), kind, text, np.nan, np.nan))
        said[number] = text
    return events
