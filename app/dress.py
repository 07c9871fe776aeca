"""How the reader wants to see things: the light, the clock, the units, the size of the text. Kept in cookies."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from .figures.palette import THEMES, Theme
from .units import UNITS, Units

TEXT_SIZES = {"100": 1.0, "115": 1.15, "130": 1.3, "150": 1.5}
CLOCKS = {"utc": "UTC", "local": "This computer's time"}
_SHIP = "ship"
LONGEST_OFFSET_MIN = 14 * 60


@dataclass(frozen=True)
class Clock:
    """The time zone of the screen: one offset from UTC [min] for a whole passage, and its name."""

    offset_min: int = 0
    name: str = "UTC"

    @property
    def offset_ms(self) -> float:
        """What to add to a UTC time [ms] to draw it by this clock."""
        return self.offset_min * 60_000.0

    def at(self, time_ms: float) -> datetime:
        """Give a UTC time [ms since 1970] by this clock."""
        return datetime.fromtimestamp(time_ms / 1000, timezone(timedelta(minutes=self.offset_min)))


@dataclass(frozen=True)
class Dress:
    """Everything a screen needs to know of its reader. ``clock_choice`` is what the reader chose it by."""

    theme_name: str = "day"
    clock: Clock = Clock()
    clock_choice: str = "utc"
    units: Units = UNITS["knots"]
    text: float = 1.0

    @property
    def theme(self) -> Theme:
        """The colours."""
        return THEMES[self.theme_name]

    def px(self, size: float) -> float:
        """Scale a size of type [px] to the reader's."""
        return round(size * self.text, 1)


def dress_of(cookies: Mapping[str, str], start_ms: float | None = None) -> Dress:
    """Read the reader's wishes, each with its default where it is absent or makes no sense.

    ``start_ms`` is the start of the passage, which settles summer time for the computer's own clock.
    """
    theme = cookies.get("theme", "")
    choice = cookies.get("clock", "utc")
    clock = _clock(choice, start_ms)
    return Dress(
        theme_name=theme if theme in THEMES else next(iter(THEMES)),
        clock=clock,
        clock_choice=choice if clock.name != "UTC" else "utc",
        units=UNITS.get(cookies.get("units", ""), UNITS["knots"]),
        text=TEXT_SIZES.get(cookies.get("text", ""), 1.0),
    )


def ship_choice(offset_min: int) -> str:
    """Name the choice of a ship's time by its offset from UTC [min]."""
    return f"{_SHIP}{offset_min:+d}"


def offset_text(offset_min: int) -> str:
    """Write an offset from UTC."""
    hours, minutes = divmod(abs(offset_min), 60)
    return f"UTC{'−' if offset_min < 0 else '+'}{hours}" + (f":{minutes:02d}" if minutes else "")


def _clock(choice: str, start_ms: float | None) -> Clock:
    if choice == "local":
        at = datetime.now(UTC) if start_ms is None else datetime.fromtimestamp(start_ms / 1000, UTC)
        offset = at.astimezone().utcoffset() or timedelta()
        return _named(round(offset.total_seconds() / 60), "local")
    if choice.startswith(_SHIP):
        number = choice.removeprefix(_SHIP)
        if number[1:].isdecimal() and number[0] in "+-" and abs(int(number)) <= LONGEST_OFFSET_MIN:
            return _named(int(number), "ship's time")
    return Clock()


def _named(offset_min: int, kind: str) -> Clock:
    return Clock(offset_min, f"{kind} ({offset_text(offset_min)})")
