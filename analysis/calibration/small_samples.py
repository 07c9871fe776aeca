"""What few observations cost."""

from scipy.special import ndtri, stdtrit


def widening(freedom: float) -> float:
    """How much wider a 95 % interval is for a scatter known from few degrees of freedom: Student's t over normal."""
    return float(stdtrit(freedom, 0.975) / ndtri(0.975))
