"""What a comparison says."""

from dataclasses import dataclass, replace

import pandas as pd

from analysis.estimate import Estimate
from analysis.passage import SourceKey


@dataclass(frozen=True)
class Apart:
    """The longest stretch in which two sources lay far apart, ends included, and by how much [unit]."""

    start: pd.Timestamp
    end: pd.Timestamp
    difference: float


@dataclass(frozen=True)
class Agreement:
    """How two sources of one quantity agree; differences are second less first, directions along the shorter arc.

    ``unit`` is that of the channel, m for positions. ``bias`` is the mean difference (the distance for positions),
    ``scale`` the ratio second / first where the quantity has a zero, ``lag_s`` how much later the second comes,
    ``drift_per_h`` the trend of the difference; each with its one-sigma, None where it is not told. ``noise`` is
    each one's one-sigma from reading to reading, ``dropouts`` the share of the time in which one is silent while
    the other speaks. ``tolerance`` is what the published accuracy of two such instruments allows at the typical
    value beside a constant difference up to ``settable``, ``within`` the share of the time inside it, ``apart`` the
    longest stretch far outside.

    ``repeat`` says that both are one instrument heard twice. ``trusted`` is the one to trust, ``why`` the reason,
    or why it cannot be told. ``needs_first`` and ``needs_second`` are the corrections that each needs by the
    calibration, None where that does not tell.
    """

    channel: str
    first: SourceKey
    second: SourceKey
    unit: str
    compared_s: int
    repeat: bool
    bias: float
    bias_sd: float
    scale: float | None
    scale_sd: float | None
    lag_s: float | None
    lag_sd_s: float | None
    noise_first: float | None
    noise_second: float | None
    dropouts_first: float
    dropouts_second: float
    drift_per_h: float | None
    drift_per_h_sd: float | None
    typical: float
    tolerance: float
    settable: float
    within: float
    apart: Apart | None
    trusted: SourceKey | None
    why: str
    needs_first: Estimate | None = None
    needs_second: Estimate | None = None

    @property
    def size(self) -> float:
        """How far they differ on the whole, in tolerances: 1 is what their accuracy allows."""
        size = max(abs(self.bias) - self.settable, 0.0) / self.tolerance
        if self.settable and self.scale is not None and self.typical:
            size = max(size, abs(self.scale - 1) * self.typical / self.tolerance)
        return size

    @property
    def sure(self) -> bool:
        """Whether that is beyond chance: three one-sigmas."""
        if self.settable and self.scale is not None and self.scale_sd is not None:
            return abs(self.scale - 1) > 3 * self.scale_sd
        return abs(self.bias) > 3 * self.bias_sd

    @property
    def disagrees(self) -> bool:
        """Whether the two differ by more than their accuracy allows, on the whole or for a long stretch."""
        return (self.size > 1 and self.sure) or self.apart is not None

    @property
    def untrusted(self) -> SourceKey | None:
        """The one not to trust, where that is told."""
        if self.trusted is None:
            return None
        return self.second if self.trusted == self.first else self.first

    def turned(self) -> "Agreement":
        """Return the same seen from the other side: first and second change places."""
        sign = 1 if self.channel == "lat_deg" else -1
        return replace(
            self,
            first=self.second,
            second=self.first,
            bias=sign * self.bias,
            scale=1 / self.scale if self.scale else None,
            scale_sd=self.scale_sd / self.scale**2 if self.scale and self.scale_sd else self.scale_sd,
            lag_s=-self.lag_s if self.lag_s is not None else None,
            noise_first=self.noise_second,
            noise_second=self.noise_first,
            dropouts_first=self.dropouts_second,
            dropouts_second=self.dropouts_first,
            drift_per_h=sign * self.drift_per_h if self.drift_per_h is not None else None,
            apart=replace(self.apart, difference=sign * self.apart.difference) if self.apart else None,
            needs_first=self.needs_second,
            needs_second=self.needs_first,
        )


@dataclass(frozen=True)
class StandIn:
    """SOG in place of a log that is silent: over how much of the time under way, and what it costs.

    ``current_kn`` is the typical size of what the ground moved beside the log while that still spoke, None where it
    never did; ``wind_error_kn`` is what this leaves on the true wind.
    """

    absent: bool
    silent_s: float
    under_way_s: float
    current_kn: float | None
    words: str
