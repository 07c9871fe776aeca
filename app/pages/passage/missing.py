"""What a passage lacks, and why, in plain sentences."""

from collections.abc import Collection

from analysis.channels import CHANNELS
from analysis.findings.telling import listed
from analysis.passage import Passage
from analysis.sentences import SENTENCES
from app.figures.rows import ROWS, Placed

_NEEDS = {
    "True wind over the water": (
        ("twd_water_deg", "tws_water_kn"),
        ("awa_deg", "aws_kn", "stw_kn", "heading_true_deg"),
    ),
    "True wind over the ground": (
        ("twd_ground_deg", "tws_ground_kn"),
        ("awa_deg", "aws_kn", "heading_true_deg", "sog_kn", "cog_deg"),
    ),
    "Current": (("set_deg", "drift_kn"), ("stw_kn", "heading_true_deg", "sog_kn", "cog_deg")),
}
_MEASURED = {
    "position, so no track": ("lat_deg", "lon_deg"),
    "speed over ground": ("sog_kn",),
    "course over ground": ("cog_deg",),
    "speed through the water": ("stw_kn",),
    "heading": ("heading_true_deg",),
    "apparent wind angle": ("awa_deg",),
    "apparent wind speed": ("aws_kn",),
}


def nothing_text(passage: Passage) -> str:
    """Say why there is nothing to draw at all: no reading, or no time."""
    if not passage.sources:
        return (
            "There is nothing to draw: the recording has no reading of position, speed, heading, wind or depth. "
            "What it does hold is accounted for below."
        )
    return (
        "This recording has no time: no sentence carries a date and time of day, and no line a stamp. Its readings "
        "cannot be placed on a time axis, so there is no track and there are no strips. "
        "What was read is accounted for below. If only the date is missing, open the recording again with "
        "--date YYYY-MM-DD."
    )


def no_track_text(passage: Passage, present: Collection[str]) -> str:
    """Say why there is no track."""
    return (
        f"No track, for there is no position: {_reason(passage, 'lat_deg')} "
        "Without position there is no distance and no coastline; "
        + ("everything else is shown against time." if present else "nothing else was read either.")
    )


def not_drawn_text(rows: list[Placed]) -> str:
    """Name the usual strips that are left out; "" where there are all."""
    shown = {place.row.title for place in rows}
    absent = [row.title[0].lower() + row.title[1:] for row in ROWS if row.title not in shown]
    return f"Not drawn, for want of readings: {listed(absent)}. " if absent else ""


def missing_texts(passage: Passage, present: Collection[str]) -> list[str]:
    """Write a sentence for each quantity of the page that the passage has not, with the reason."""
    texts = [
        f"No {name}: {_reason(passage, next(c for c in channels if c not in present))}"
        for name, channels in _MEASURED.items()
        if not set(channels) <= set(present)
    ]
    for name, (results, inputs) in _NEEDS.items():
        if set(results) <= set(present):
            continue
        lacking = [CHANNELS[channel].label for channel in inputs if channel not in present]
        if lacking:
            texts.append(f"{name} cannot be derived: it also needs {listed(lacking)}.")
        else:
            texts.append(f"{name} is not shown: its inputs never came close enough together in time.")
    return texts


def _reason(passage: Passage, channel: str) -> str:
    kept_out = passage.counts.out_of_range.get(channel, 0)
    if kept_out:
        return f"all {kept_out} readings of it lie outside what is physically possible and were kept out."
    read = sum(source.count for source in passage.sources if source.key.channel == channel)
    if read:
        return f"{read} readings of it were found, but none could be placed in time."
    formatters = sorted(
        formatter
        for formatter, layouts in SENTENCES.items()
        if any(reading.channel == channel for layout in layouts for reading in layout.readings)
    )
    return f"no sentence that gives it had a usable value ({listed(formatters, 'or')})."
