"""What is known of one quantity."""

from dataclasses import dataclass

SIGMAS_95 = 1.96  # of a normal distribution: what ± means wherever it is said to a reader


@dataclass(frozen=True)
class Estimate:
    """One correction with its one-sigma: ``true = value x shown`` for speeds, ``true = shown + value`` else.

    ``value`` and ``sd`` are None where the log does not speak of the quantity at all. Where ``determined`` is
    False they say what little is known, and ``needs`` names the manoeuvre that would tell.
    """

    value: float | None
    sd: float | None
    unit: str
    determined: bool
    needs: str | None = None
