"""A boat made ready for a passage: where and when she sails, what is fitted, and nothing wrong with it."""

import datetime
from dataclasses import dataclass, field, replace

import numpy as np
import pygeomag

from .displays import TrueWind
from .instruments import Errors
from .recorder import Fit
from .voyage import sail

# Open water off coasts of quite different variation: latitude, longitude.
AREAS = {
    "western approaches": (49.3, -6.1),
    "north sea": (54.6, 3.2),
    "baltic": (56.8, 18.6),
    "gulf of maine": (43.2, -68.6),
    "off chesapeake": (36.6, -74.4),
    "off vancouver island": (48.3, -126.4),
    "off california": (36.2, -122.9),
    "canaries": (28.9, -16.2),
    "azores": (38.2, -27.4),
    "ionian": (38.1, 19.4),
    "tasman": (-37.2, 154.3),
    "hauraki": (-35.6, 175.4),
    "cape": (-35.1, 17.2),
    "antilles": (15.6, -62.4),
    "andaman": (8.4, 97.2),
}


@dataclass(frozen=True)
class Rig:
    """All that makes a recorded passage but its seed. ``spoil`` and ``garble`` are those of ``record``."""

    plan: str = "mixed"
    hours: float = 6.0
    heavy: bool = False
    pilot: str = "wind"
    tide_kn: float = 1.0
    area: str = "western approaches"
    start: datetime.datetime = datetime.datetime(2026, 5, 1, 8, tzinfo=datetime.UTC)
    variation_deg: float = 0.0
    heel_logged: bool = True
    errors: Errors = field(default_factory=Errors)
    fit: Fit = field(default_factory=Fit)
    orders: list | None = None
    spoil: tuple = ()
    garble: tuple = ()

    def sail(self, seed):
        """Sail the passage."""
        return sail(
            self.plan,
            seed,
            hours=self.hours,
            heavy=self.heavy,
            errors=self.errors,
            tide_kn=self.tide_kn,
            heel_logged=self.heel_logged,
            gaps=False,
            orders=self.orders,
            pilot=self.pilot,
            start=self.start,
            at=AREAS[self.area],
            variation_deg=self.variation_deg,
        )

    def refit(self, **changes):
        """Return the rig with fields of its fit replaced; ``rates``, ``decimals`` and ``second`` are added to."""
        for name in ("rates", "decimals", "second"):
            if name in changes:
                changes[name] = getattr(self.fit, name) | changes[name]
        return replace(self, fit=replace(self.fit, **changes))

    def placed(self, area, fitted=True):
        """Return the rig in another area, its boat knowing the variation there."""
        moved = replace(self, area=area, variation_deg=real_variation_deg(area, self.start))
        return moved.refit(variation_deg=round(moved.variation_deg, 1)) if fitted else moved


def real_variation_deg(area, when):
    """Variation by the World Magnetic Model of the date."""
    coefficients = "wmm/WMM_2025.COF" if when.year >= 2025 else "wmm/WMM_2020.COF"
    lat, lon = AREAS[area]
    year = when.year + when.timetuple().tm_yday / 365.25
    return pygeomag.GeoMag(coefficients_file=coefficients).calculate(glat=lat, glon=lon, alt=0, time=year).d


def _fit(rng):
    """Draw a plausible outfit: rates, decimals, talkers, and which sentences there are."""

    def some(share, *rates):
        return float(rng.choice(rates)) if rng.random() < share else 0.0

    rates = {
        "RMC": 1.0,
        "VTG": some(0.6, 1),
        "GGA": some(0.8, 1),
        "GLL": some(0.4, 1, 0.5),
        "ZDA": some(0.4, 0.1, 1),
        "HDG": some(1, 1, 2, 5),
        "HDT": some(0.25, 1, 2),
        "VHW": 1.0,
        "VLW": some(0.3, 0.2),
        "MWV-R": some(1, 1, 2),
        "MWV-T": some(0.7, 1),
        "MWD": some(0.6, 1, 0.5),
        "DPT": some(0.8, 0.5, 1),
        "DBT": some(0.3, 1),
        "MTW": some(0.8, 0.1, 0.5),
        "XDR-attitude": some(0.85, 1, 2),
        "XDR-barometer": some(0.5, 0.1, 1),
        "ROT": some(0.3, 1),
        "RSA": some(0.4, 1, 2),
    }
    decimals = {
        "cog": int(rng.random() < 0.8),
        "sog": int(rng.choice([1, 2])),
        "heading": int(rng.random() < 0.7),
        "stw": int(rng.choice([1, 2])),
        "awa": int(rng.random() < 0.5),
    }
    talkers = {"gnss": str(rng.choice(["GP", "GN"]))}
    if rng.random() < 0.3:
        talkers |= dict.fromkeys(("compass", "log", "wind", "sounder"), "II")
    fields = str(rng.choice(["TM", "TM", "M", ""]))
    inside = tuple(name for name, share in (("RMC", 0.6), ("HDG", 0.8)) if rng.random() < share)
    return Fit(
        rates=rates,
        decimals=decimals,
        talkers=talkers,
        variation_in=inside,
        heading_fields=fields,
        heel_name=str(rng.choice(["HEEL", "ROLL"])),
        depth_offset_m=float(rng.choice([0.4, 0.6, -1.6, -1.9])),
        true_wind=TrueWind(tau_s=rng.uniform(1, 5)),
        latency_s=rng.uniform(0.05, 0.35),
    )


def clean_rig(rng):
    """Draw a boat with nothing wrong: leeway, a little upwash, tide to 2 kn, one of three pilots, waves, gusts."""
    when = datetime.datetime(2024, 1, 1, tzinfo=datetime.UTC) + datetime.timedelta(
        days=float(rng.integers(0, 1400)), minutes=float(rng.integers(0, 1440))
    )
    rig = Rig(
        heavy=bool(rng.random() < 0.5),
        pilot=str(rng.choice(["wind", "compass", "shown-awa"])),
        tide_kn=rng.uniform(0, 2),
        start=when,
        errors=Errors(upwash_deg=rng.uniform(-1, 0), leeway_coefficient=rng.uniform(5, 12)),
        fit=_fit(rng),
    )
    rig = rig.placed(str(rng.choice(list(AREAS))))
    return _with_second_sources(rng, rig)


def _with_second_sources(rng, rig):
    """Now and then a second source that agrees within the published accuracy of its kind."""
    second, rates = {}, {}
    if rng.random() < 0.12:
        rates["RMC2"] = 1.0
        second |= dict.fromkeys(("lat_deg", "lon_deg", "sog_kn", "cog_deg"), (1.0, 0.0))
    if rng.random() < 0.1:
        rates["HDT2"] = 1.0
        second["heading_true_deg"] = (1.0, rng.uniform(-0.5, 0.5))
    if rng.random() < 0.1:
        rates["VHW2"] = 1.0
        second["stw_kn"] = (rng.uniform(0.99, 1.01), 0.0)
    if rng.random() < 0.1:
        rates["MWV-R2"] = 1.0
        second |= {"awa_deg": (1.0, rng.uniform(-2, 2)), "aws_kn": (rng.uniform(0.96, 1.04), 0.0)}
    return rig.refit(rates=rates, second=second)


def nearly_clean_rig(rng):
    """Draw a boat whose errors lie well inside the published accuracy of each instrument."""
    rig = clean_rig(rng)
    errors = replace(
        rig.errors,
        log_factor=rng.uniform(0.99, 1.01),
        deviation=tuple(rng.uniform(-s, s) for s in (0.5, 0.4, 0.4, 0.2, 0.2)),
        vane_offset_deg=rng.uniform(-1.5, 1.5),
        wind_speed_factor=rng.uniform(0.96, 1.04),
    )
    return replace(rig, errors=errors)


def generator(name, seed):
    """The random numbers of case ``seed`` of ``name``, the same for ever."""
    return np.random.default_rng([seed, sum(ord(c) * (i + 1) for i, c in enumerate(name))])
