"""The options of the command line for the parts beside the instruments: one module each."""

import argparse
from typing import TYPE_CHECKING

from . import emergencies, polar, routes, traffic, weather

if TYPE_CHECKING:
    from analysis.asked import Asked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add every part's options, a group for each."""
    emergencies.add_options(parser)
    polar.add_options(parser)
    routes.add_options(parser)
    traffic.add_options(parser)
    weather.add_options(parser)


def asked(arguments: argparse.Namespace) -> "Asked":
    """Put together what the options say. Raises SternlogError where one cannot be used."""
    from analysis.asked import Asked

    return Asked(
        overboard=emergencies.asked(arguments),
        polar=polar.asked(arguments),
        routes=routes.asked(arguments),
        traffic=traffic.asked(arguments),
        weather=weather.asked(arguments),
    )
