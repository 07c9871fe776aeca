"""Units on the screen: data stays in knots, metres, °C and hPa; only what is shown is converted."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.channels import unit_of


@dataclass(frozen=True)
class Shown:
    """How a unit is shown: ``shown = factor x value + offset``, with its symbol and usual decimals."""

    symbol: str
    decimals: int
    factor: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True)
class Units:
    """A set of units: what the reader chooses, and how each of the data's own units is shown in it."""

    label: str
    shown: Mapping[str, Shown]

    def of(self, unit: str) -> Shown:
        """Find how a unit of the data is shown."""
        return self.shown.get(unit) or Shown(unit, 1)

    def of_channel(self, channel: str) -> Shown:
        """Find how a channel is shown; a one-sigma is shown as its channel, without the offset."""
        return self.of(unit_of(channel))


_KNOTS = {
    "kn": Shown("kn", 1),
    "nm": Shown("nm", 2),
    "deg": Shown("°", 0),
    "m": Shown("m", 1),
    "degC": Shown("°C", 1),
    "hPa": Shown("hPa", 1),
    "%": Shown("%", 0),
    "rpm": Shown("rpm", 0),
    "deg/min": Shown("°/min", 0),
    "V": Shown("V", 2),
    "1": Shown("", 2),
}
UNITS = {
    "knots": Units("Knots, metres, °C", _KNOTS),
    "feet": Units(
        "Knots, feet, °F", _KNOTS | {"m": Shown("ft", 0, 1 / 0.3048), "degC": Shown("°F", 0, 1.8, 32.0)}
    ),
    "metric": Units(
        "Metres a second, kilometres, °C",
        _KNOTS | {"kn": Shown("m/s", 1, 1852 / 3600), "nm": Shown("km", 2, 1.852)},
    ),
}
