"""The rows of the strips: which quantities share a strip, and how the strips are stacked."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.channels import CHANNELS, Channel, Kind

from .scene import Scene

GAP = 0.022
AT_MOST = 6
"""The rows of EXTRA are added up to this many strips."""
SHOWN = "_shown"


@dataclass(frozen=True)
class Trace:
    """One line of a row: its column, the part it plays (a colour of the theme) and its name in the row."""

    column: str
    part: str
    name: str

    @property
    def channel(self) -> Channel:
        """The quantity it shows."""
        return CHANNELS[self.column.removesuffix(SHOWN)]


@dataclass(frozen=True)
class Row:
    """One strip of paper: title, lines, relative height, and the smallest spread its axis shows.

    With ``means`` the lines lie over one another: each is drawn as the mean of a run, its extremes faint
    beneath. A ``downward`` axis has zero on top.
    """

    title: str
    traces: tuple[Trace, ...]
    height: float = 1.6
    least: float = 0.1
    means: bool = False
    downward: bool = False

    @property
    def key(self) -> str:
        """What the reader's choice is kept by: the row's first column."""
        return self.traces[0].column

    @property
    def kind(self) -> Kind:
        """Kind of the row's quantity."""
        return self.traces[0].channel.kind


ROWS = (
    Row("Speed", (Trace("stw_kn", "boat", "water"), Trace("sog_kn", "ground", "ground")), 2.2, 1.0),
    Row(
        "Heading and course",
        (Trace("heading_true_deg", "boat", "heading"), Trace("cog_deg", "ground", "COG")),
        2.2,
        20.0,
    ),
    Row("Apparent wind angle", (Trace("awa_deg", "starboard", "AWA"),), 1.9, 20.0),
    Row("Apparent wind speed", (Trace("aws_kn", "boat", "AWS"),), 1.6, 2.0),
    Row(
        "True wind direction",
        (
            Trace("twd_water_deg", "boat", "over water"),
            Trace("twd_ground_deg", "ground", "over ground"),
            Trace("logged_twd_deg", "logged", "as recorded"),
        ),
        2.7,
        20.0,
        means=True,
    ),
    Row(
        "True wind speed",
        (
            Trace("tws_water_kn", "boat", "over water"),
            Trace("tws_ground_kn", "ground", "over ground"),
            Trace("logged_tws_kn", "logged", "as recorded"),
        ),
        2.7,
        2.0,
        means=True,
    ),
    Row("Current set", (Trace("set_deg", "boat", "set"),), 1.6, 30.0, means=True),
    Row("Current drift", (Trace("drift_kn", "boat", "drift"),), 1.6, 0.5, means=True),
)
EXTRA = (
    Row(
        "Depth",
        (
            Trace("depth_m", "boat", "transducer"),
            Trace("depth_surface_m", "ground", "surface"),
            Trace("depth_keel_m", "logged", "keel"),
        ),
        2.2,
        1.0,
        downward=True,
    ),
    Row("Heel", (Trace("heel_deg", "starboard", "heel"),), 1.9, 10.0),
    Row("Air pressure", (Trace("air_pressure_hpa", "boat", "pressure"),), 1.6, 2.0),
    Row("Water temperature", (Trace("water_temp_c", "boat", "water"),), 1.6, 1.0),
)
"""What is drawn where the passage has not much else."""
_LEAST = {"kn": 1.0, "deg": 10.0, "degC": 1.0, "hPa": 2.0, "m": 1.0, "rpm": 100.0, "%": 5.0, "deg/min": 20.0}


@dataclass(frozen=True)
class Placed:
    """A row with those of its lines that the passage has, its relative height, and its place from 0 to 1 (top)."""

    row: Row
    traces: tuple[Trace, ...]
    height: float
    bottom: float
    top: float


def rows_of(scene: Scene) -> list[Row]:
    """List every row that a scene could fill, the usual ones first, then one for each other channel."""
    usual = [row for row in (*ROWS, *EXTRA) if any(trace.column in scene.columns for trace in row.traces)]
    taken = {trace.column for row in usual for trace in row.traces}
    others = [CHANNELS[name] for name in scene.channels if name not in taken]
    return usual + [_alone(channel) for channel in others if channel.kind != "position"]


def placed_rows(scene: Scene, chosen: Sequence[str] = ()) -> list[Placed]:
    """Stack the rows that have anything to show, the first on top; ``chosen`` are the keys of those wanted.

    Without a choice, or where the scene has none of it, they are the usual ones.
    """
    possible = rows_of(scene)
    rows = [row for row in possible if row.key in chosen]
    if not rows:
        rows = [row for row in possible if row in ROWS]
        rows += [row for row in possible if row in EXTRA][: max(AT_MOST - len(rows), 0)]
    if not rows:
        return []
    filled = [(row, _traces(scene, row)) for row in rows]
    heights = [max(row.height, 0.6 + 0.7 * len(traces)) for row, traces in filled]
    paper = (1.0 - GAP * (len(rows) - 1)) / sum(heights)
    placed, top = [], 1.0
    for (row, traces), height in zip(filled, heights, strict=True):
        bottom = top - height * paper
        placed.append(Placed(row, traces, height, max(bottom, 0.0), top))
        top = bottom - GAP
    return placed


def _traces(scene: Scene, row: Row) -> tuple[Trace, ...]:
    """Choose the lines that the scene has, and what a corrected one was before beside it."""
    drawn = [trace for trace in row.traces if trace.column in scene.columns]
    before = [
        Trace(f"{trace.column}{SHOWN}", "shown", "as shown" if len(drawn) == 1 else f"{trace.name}, as shown")
        for trace in drawn
        if f"{trace.column}{SHOWN}" in scene.columns
    ]
    return (*drawn, *before)


def _alone(channel: Channel) -> Row:
    part = "starboard" if channel.kind == "signed_angle" else "boat"
    name = channel.label if len(channel.label) < 12 else ""
    return Row(channel.label, (Trace(channel.name, part, name),), least=_LEAST.get(channel.unit, 0.1))
