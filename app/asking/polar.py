"""The options of the polar."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.performance import PolarAsked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the table to compare with."""
    group = parser.add_argument_group("polar")
    group.add_argument(
        "--polar",
        type=Path,
        metavar="FILE",
        help="a table of boat speeds to hold the passage against: a row for every true wind angle, a column for "
        "every true wind speed in kn",
    )


def asked(arguments: argparse.Namespace) -> "PolarAsked":
    """Read the table. Raises LogError where it cannot be used."""
    from analysis.performance import PolarAsked
    from analysis.reading.polar_table import read_polar_table

    return PolarAsked(None if arguments.polar is None else read_polar_table(arguments.polar))
