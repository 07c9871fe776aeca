"""Ways a display may work out the wind vector and its direction, and what each leaves unexplained."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.logged_wind.rows import BLOCK_S, Complexes, Damping, Rows, block_means, filled, unit
from analysis.passage import Bools, Floats, Ints

KMH, M_S = 1.852, 1852 / 3600
UNITS = {  # what a speed reads where its unit is mistaken, over what it is
    "m/s are taken for knots": M_S,
    "knots are taken for m/s": 1 / M_S,
    "km/h are taken for knots": KMH,
    "knots are taken for km/h": 1 / KMH,
}
LEEWAY_COEFFICIENTS = (2.0, 25.0)  # published ones for yachts lie near 8, see Garrett 1987
SMALL_DEG, SMALL_SHARE = 1.0, 0.02  # heading within 1 deg, MSC.116(73) 4.3.2; log within 2 %, IMO A.824(19)
FRESH_SHARE = 0.9
LEAST_COVERAGE = 0.2
LEAST_WIND_KN = 1.0


@dataclass(frozen=True)
class Blocks:
    """Means over 10 s of what a display works from, smoothed as it smooths, and of what it shows.

    ``row`` counts the seconds from the first row of all windows on.
    """

    row: Ints
    apparent: Complexes
    stw: Complexes
    shown: Complexes
    ground: Complexes | None
    heeled: Complexes | None
    sideways: Complexes

    def turned(self, angle_deg: float) -> "Blocks":
        """Turn the shown wind."""
        return replace(self, shown=self.shown * np.exp(1j * np.radians(angle_deg)))


@dataclass(frozen=True)
class Way:
    """One way to work out a vector per block: what it gives, what is left of the shown one, the numbers fitted."""

    parts: tuple[str, ...]
    predicted: Complexes
    left: Complexes
    numbers: Mapping[str, float] = field(default_factory=dict)
    detail: str = ""


def smooth_blocks(rows: Rows, dampings: Sequence[Damping]) -> list[Blocks]:
    """Smooth the inputs by each damping and take means over the same blocks.

    Left out are turns, the start of each window, and blocks with anything missing.
    """
    needed = [filled(one) for one in (rows.apparent, rows.stw, rows.sideways)]
    extra = [filled(one) if one is not None else None for one in (rows.ground, rows.heeled)]
    extra = [one if one is not None and one[1].mean() > LEAST_COVERAGE else None for one in extra]
    shown, use = filled(rows.shown)
    use = use & ~rows.turning
    for source in (*needed, *extra):
        if source is not None:
            use &= source[1]
    for damping in dampings:
        use &= damping(use.astype(complex)).real > FRESH_SHARE
    slowest_s = max(damping.lag_s for damping in dampings)
    use[:, : int(min(3 * slowest_s + 5, use.shape[1] / 4))] = False
    means = block_means(shown, use)
    good = np.isfinite(means)
    row = np.flatnonzero(good) * BLOCK_S
    made = []
    for damping in dampings:
        apparent, stw, sideways = (block_means(damping(source[0]), use)[good] for source in needed)
        ground, heeled = (
            block_means(damping(source[0]), use)[good] if source is not None else None for source in extra
        )
        made.append(Blocks(row, apparent, stw, means[good], ground, heeled, sideways))
    return made


def vector_ways(blocks: Blocks, good: Bools, lagging: bool) -> Iterator[Way]:
    """Work out the true wind off the bow in every single way and in the plausible pairs.

    ``good`` blocks serve to fit numbers; ``lagging`` says that the blocks are smoothed as no ordinary display does.
    """
    late = ("lag",) if lagging else ()
    shown, water, most = blocks.shown, blocks.stw, 1 if lagging else 2
    boats: list[tuple[tuple[str, ...], Complexes]] = [((), water)]
    if blocks.ground is not None:
        boats.append((("ground",), blocks.ground))
        boats.append((("speed-over-ground",), np.abs(blocks.ground).astype(complex)))
    winds: list[tuple[tuple[str, ...], Complexes]] = [((), blocks.apparent)]
    winds.append((("mirrored",), blocks.apparent.conj()))
    if blocks.heeled is not None:
        winds.append((("heel",), blocks.apparent + blocks.heeled))

    def way(
        parts: tuple[str, ...],
        predicted: Complexes,
        numbers: Mapping[str, float] | None = None,
        detail: str = "",
    ) -> Way:
        return Way((*parts, *late), predicted, shown - predicted, numbers or {}, detail)

    for boat_parts, boat in boats:
        for wind_parts, wind in winds:
            parts = (*wind_parts, *boat_parts)
            if len(parts) <= most:
                yield way(parts, wind - boat)
            if len(parts) >= most:
                continue
            for words, ratio in UNITS.items():
                yield way((*parts, "unit"), ratio * (wind - boat), detail=f"true wind speed: {words}")
                yield way((*parts, "unit"), ratio * wind - boat, detail=f"apparent wind speed: {words}")
                if not boat_parts:
                    yield way((*parts, "unit"), wind - ratio * boat, detail=f"STW: {words}")
            numbers, predicted = _calibrated(shown, wind, boat, good, with_log=not boat_parts)
            if _matters(**numbers):
                yield way((*parts, "calibrated"), predicted, numbers)
            if not boat_parts:
                (k,) = _solve([-blocks.sideways], shown - wind + boat, good)
                if LEEWAY_COEFFICIENTS[0] < k < LEEWAY_COEFFICIENTS[1]:
                    leeway = {"leeway_coefficient": float(k)}
                    drifting = boat + k * blocks.sideways
                    yield way((*parts, "leeway-taken-in"), wind - drifting, leeway)
                    numbers, predicted = _calibrated(shown, wind, drifting, good, with_log=True)
                    if not parts and not lagging and _matters(**numbers):
                        yield way(("leeway-taken-in", "calibrated"), predicted, numbers | leeway)
        if len(boat_parts) < most:
            usual = blocks.apparent - boat
            for start, constant in _frozen(shown, usual, -boat, good):
                predicted = np.where(np.arange(len(shown)) < start, usual, constant - boat)
                numbers = {
                    "awa_deg": float(np.angle(constant, deg=True)),
                    "aws_kn": float(abs(constant)),
                    **_since(blocks.row, start),
                }
                yield way((*boat_parts, "frozen-wind"), predicted, numbers)
    for wind_parts, wind in winds[:2]:
        if len(wind_parts) < most:
            yield way((*wind_parts, "apparent-repeated"), wind)
            for start, constant in _frozen(shown, wind - water, wind, good, real=True):
                predicted = np.where(np.arange(len(shown)) < start, wind - water, wind + constant)
                numbers = {"stw_kn": float(-constant.real), **_since(blocks.row, start)}
                yield way((*wind_parts, "frozen-log"), predicted, numbers)


def _since(row: Ints, start: int) -> dict[str, float]:
    return {"since_row": float(row[start])} if start else {}


def _calibrated(
    shown: Complexes, wind: Complexes, boat: Complexes, good: Bools, with_log: bool
) -> tuple[dict[str, float], Complexes]:
    """Turn and stretch the apparent wind, and the speed through the water, until they give what is shown."""
    columns = [wind, 1j * wind, *([-boat] if with_log else [])]
    fitted = _solve(columns, shown if with_log else shown + boat, good)
    wind_change = complex(fitted[0], fitted[1])
    numbers = {
        "vane_offset_deg": float(np.angle(wind_change, deg=True)),
        "wind_speed_factor": float(abs(wind_change)),
    }
    if with_log:
        numbers["log_factor"] = float(fitted[2])
    return numbers, wind_change * wind - (fitted[2] if with_log else 1.0) * boat


def _matters(vane_offset_deg: float, wind_speed_factor: float, log_factor: float = 1.0) -> bool:
    off = max(abs(wind_speed_factor - 1), abs(log_factor - 1))
    return abs(vane_offset_deg) > SMALL_DEG or off > SMALL_SHARE


def _solve(columns: Sequence[Complexes], target: Complexes, good: Bools) -> Floats:
    """Least-squares real coefficients of complex columns."""
    design = np.stack([np.concatenate([c[good].real, c[good].imag]) for c in columns])
    aim = np.concatenate([target[good].real, target[good].imag])
    gram = np.einsum("in,jn->ij", design, design)
    gram += np.diag(1e-9 * np.diag(gram) + 1e-12)
    solution: Floats = np.linalg.solve(gram, np.einsum("in,n->i", design, aim))
    return solution


def _frozen(
    shown: Complexes, usual: Complexes, rest: Complexes, good: Bools, real: bool = False
) -> Iterator[tuple[int, complex]]:
    """Find the constant that with ``rest`` gives what is shown: over all blocks, and from the best block on.

    Yields the first frozen block and the constant; before it ``usual`` holds.
    """
    before = np.where(good, np.abs(shown - usual) ** 2, 0.0)
    target = np.where(good, shown - rest, 0)
    if real:
        target_sum, across = target.real.astype(complex), np.where(good, target.imag**2, 0.0)
    else:
        target_sum, across = target, np.zeros(len(target))

    def after(values: np.ndarray) -> np.ndarray:
        return np.cumsum(values[::-1])[::-1]

    number, total = np.maximum(after(good.astype(float)), 1.0), after(target_sum)
    within = after(np.abs(target_sum) ** 2) - np.abs(total) ** 2 / number + after(across)
    cost = np.cumsum(before) - before + within
    yield 0, complex(total[0] / number[0])
    inner = slice(len(shown) // 20, 1 + len(shown) * 4 // 5)
    start = int(np.argmin(cost[inner])) + (inner.start or 0)
    if start > 0:
        yield start, complex(total[start] / number[start])


def variation_causes(rows: Rows) -> tuple[str, str]:
    """What it means when the logged direction is less, and when it is more, than it should by the variation."""
    return ("variation-twice", "magnetic") if rows.direction_is_magnetic else ("magnetic", "variation-twice")


@dataclass(frozen=True)
class Directions:
    """Means over 10 s of the logged direction off the logged angle, which is the heading that the display uses.

    Vectors have the length of the usual true wind [kn]. ``expected`` is the logged heading, ``late`` the same
    smoothed as no ordinary display does, ``over_ground`` the heading under which the direction would be that of the
    wind over the ground; both None where they do not apply.
    """

    row: Ints
    shown: Complexes
    expected: Complexes
    late: Complexes | None
    over_ground: Complexes | None
    steady: Bools


def smooth_directions(
    rows: Rows, dampings: Sequence[Damping], wind_over_ground: Complexes | None
) -> Directions:
    """Smooth the heading by each damping, the ordinary one first, and take means, turns included.

    ``wind_over_ground`` (windows, seconds) is the true wind over the ground off the bow.
    """
    assert rows.direction is not None and rows.heading is not None
    heading, known = filled(rows.heading)
    shown, seen = filled(rows.direction * unit(rows.shown).conj())
    strength = np.nan_to_num(np.abs(rows.shown))
    use = known & seen & (strength > LEAST_WIND_KN)
    speed_kn = float(np.median(strength[use])) if use.any() else 0.0
    means = block_means(shown, use)
    kept = np.isfinite(means)

    def blocks(values: Complexes) -> Complexes:
        return block_means(values, use)[kept] * speed_kn

    over_ground = None
    if wind_over_ground is not None:
        over_ground = blocks(heading * filled(unit(wind_over_ground) * unit(rows.shown).conj())[0])
    return Directions(
        row=np.flatnonzero(kept) * BLOCK_S,
        shown=means[kept] * speed_kn,
        expected=blocks(dampings[0](heading)),
        late=blocks(dampings[1](heading)) if len(dampings) > 1 else None,
        over_ground=over_ground,
        steady=block_means(rows.turning.astype(complex), use)[kept].real == 0,
    )


def direction_ways(directions: Directions, rows: Rows, good: Bools) -> Iterator[Way]:
    """Work out the logged direction in every single way; ``good`` blocks serve to fit numbers."""
    shown, expected = directions.shown, directions.expected

    def way(cause: str, predicted: Complexes, numbers: Mapping[str, float] | None = None) -> Way:
        return Way((cause,) if cause else (), predicted, shown - predicted, numbers or {})

    yield way("", expected)
    if directions.late is not None:
        yield way("lag", directions.late)
    if directions.over_ground is not None:
        yield way("direction-over-ground", directions.over_ground)
    if rows.variation_deg is not None:
        less, more = variation_causes(rows)
        variation = np.exp(1j * np.radians(rows.variation_deg))
        yield way(less, expected / variation)
        yield way(more, expected * variation)
    fit = good & directions.steady
    offset_deg = float(np.angle(np.vdot(expected[fit], shown[fit]), deg=True))
    if abs(offset_deg) > SMALL_DEG:
        turned = expected * np.exp(1j * np.radians(offset_deg))
        yield way("other-heading", turned, {"heading_offset_deg": offset_deg})
    for start, constant in _frozen(shown, expected, np.zeros_like(shown), good):
        predicted = np.where(np.arange(len(shown)) < start, expected, constant)
        heading_deg = float(np.angle(constant, deg=True) % 360)
        yield way(
            "frozen-heading", predicted, {"heading_true_deg": heading_deg, **_since(directions.row, start)}
        )
