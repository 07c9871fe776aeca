"""What to ask for of traffic: when a close approach counts, the height of the aerial, a radar watch."""

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.traffic import AskedTraffic, RadarWatch

_CPA_NM, _TCPA_MIN = 1.0, 20.0
_RANGE_NM, _GUARD_NM = 6.0, 2.0


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the group of traffic. The defaults are choices, not advice."""
    group = parser.add_argument_group("traffic, for review")
    group.add_argument(
        "--cpa",
        type=float,
        default=_CPA_NM,
        metavar="NM",
        help="a closest approach within so much counts as close; 1 nm is a choice, not advice",
    )
    group.add_argument(
        "--tcpa",
        type=float,
        default=_TCPA_MIN,
        metavar="MIN",
        help="how far ahead a close approach alarms; 20 min is a choice, not advice",
    )
    group.add_argument(
        "--aerial-height",
        type=float,
        metavar="M",
        help="height of the own AIS aerial above the water, to compare reception with the radio horizon",
    )
    group.add_argument(
        "--radar-watch",
        type=_minutes,
        metavar="SLEEP/SCAN",
        help="check a radar that sleeps and scans by turns, in minutes, as 10/1",
    )
    group.add_argument(
        "--radar-range",
        type=float,
        default=_RANGE_NM,
        metavar="NM",
        help="range at which the radar surely detects (6 unless told)",
    )
    group.add_argument(
        "--guard-range",
        type=float,
        default=_GUARD_NM,
        metavar="NM",
        help="range at which a target must have been seen (2 unless told)",
    )


def asked(arguments: argparse.Namespace) -> "AskedTraffic":
    """Put together what the options say. Raises SettingError where one has no meaning."""
    from analysis.traffic import Alarms, AskedTraffic

    return AskedTraffic(Alarms(arguments.cpa, arguments.tcpa), arguments.aerial_height, _watch(arguments))


def _watch(arguments: argparse.Namespace) -> "RadarWatch | None":
    from analysis.traffic import RadarWatch

    if arguments.radar_watch is None:
        return None
    sleep, scan = arguments.radar_watch
    return RadarWatch(sleep, scan, arguments.radar_range, arguments.guard_range)


def _minutes(text: str) -> tuple[float, float]:
    sleep, stroke, scan = text.partition("/")
    try:
        return float(sleep), float(scan if stroke else "")
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no radar watch; say minutes asleep, a stroke and minutes scanning, such as 10/1"
        ) from None
