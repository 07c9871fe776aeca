"""What is known of one quantity, and what would tell more of it."""

from dataclasses import dataclass

SIGMAS_95 = 1.96  # of a normal distribution: what ± means wherever it is said to a reader
_SYMBOLS = {"1": " %", "deg": "°", "deg kn2/deg": " kn²"}


@dataclass(frozen=True)
class Need:
    """What would determine a quantity: a ``manoeuvre`` in the imperative, without its full stop.

    It takes ``minutes`` in all and should leave ``expected_sd``; None where that was not computed. ``enough`` is
    False where even that would leave the quantity open.
    """

    manoeuvre: str
    minutes: float | None = None
    expected_sd: float | None = None
    enough: bool = True

    def sentence(self, *expected: str) -> str:
        """Say it in one sentence, with what is to be expected of one quantity or several."""
        if not expected:
            return f"{self.manoeuvre}."
        if self.enough:
            return f"{self.manoeuvre}: then {', '.join(expected)}."
        return (
            f"{self.manoeuvre}: then no better than {', '.join(expected)}; "
            "repeat it in smoother water or a steadier wind."
        )


@dataclass(frozen=True)
class Estimate:
    """One correction with its one-sigma: ``true = value x shown`` for speeds, ``true = shown + value`` else.

    ``value`` and ``sd`` are None where the log does not speak of the quantity at all. Where ``determined`` is
    False they say what little is known, and ``need`` what would tell.
    """

    value: float | None
    sd: float | None
    unit: str
    determined: bool
    need: Need | None = None

    @property
    def needs(self) -> str | None:
        """The need in one sentence."""
        return None if self.need is None else self.need.sentence(*self.expected)

    @property
    def expected(self) -> tuple[str, ...]:
        """The ± to be expected once the need is met, where it was computed."""
        sd = None if self.need is None else self.need.expected_sd
        return () if sd is None else (spread_text(sd, self.unit),)


def spread_text(sd: float, unit: str) -> str:
    """Write a one-sigma as the ± of 95 %, of a factor in per cent, to a tenth and of speeds to a hundredth."""
    decimals = 2 if unit == "kn" else 1
    spread = SIGMAS_95 * sd * (100 if unit == "1" else 1)
    return f"± {max(spread, 10.0**-decimals):.{decimals}f}{_SYMBOLS.get(unit, f' {unit}')}"
