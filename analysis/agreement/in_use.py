"""Which source of each quantity the passage as shown rests on."""

import numpy as np

from analysis.passage import Passage, SourceKey, column
from analysis.vectors import wrap_signed_deg

SAME_DEG = 1e-6


def in_use(passage: Passage) -> set[SourceKey]:
    """Name the sources in use: the chosen ones, of a true and a magnetic heading that which the frame holds."""
    chosen = {source.key.channel: source.key for source in passage.sources if source.chosen}
    if {"heading_true_deg", "heading_mag_deg"} <= set(chosen):
        del chosen["heading_true_deg" if from_magnetic(passage) else "heading_mag_deg"]
    return set(chosen.values())


def from_magnetic(passage: Passage) -> bool:
    """Tell whether the true heading in use was made from a magnetic one."""
    frame = passage.frame
    off = (
        column(frame, "heading_true_deg") - column(frame, "heading_mag_deg") - column(frame, "variation_deg")
    )
    return bool(np.isfinite(off).any() and np.nanmax(np.abs(wrap_signed_deg(off))) < SAME_DEG)
