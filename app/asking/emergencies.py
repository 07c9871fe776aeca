"""What to ask for of emergencies: persons overboard to mark."""

import argparse
from typing import TYPE_CHECKING

from .moments import moment

if TYPE_CHECKING:
    from analysis.emergencies import Overboard, UserMark


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the group of emergencies."""
    group = parser.add_argument_group("emergencies, for review and training")
    group.add_argument(
        "--overboard",
        type=_mark,
        action="append",
        default=[],
        metavar="UTC[@LAT,LON]",
        help="mark a person overboard at a time, as 2026-06-01T12:00:30 or 12:00:30, where the boat then was or at "
        "50.1N,1.25W (may be repeated)",
    )


def asked(arguments: argparse.Namespace) -> "Overboard":
    """Put together what the options say."""
    from analysis.emergencies import Overboard

    return Overboard(tuple(arguments.overboard))


def _mark(text: str) -> "UserMark":
    from analysis.emergencies import UserMark
    from analysis.errors import SettingError
    from analysis.positions import parse_position

    time, at, place = text.partition("@")
    if not at:
        return UserMark(moment(time))
    try:
        return UserMark(moment(time), *parse_position(place))
    except SettingError as error:
        raise argparse.ArgumentTypeError(str(error).rstrip(".")) from None
