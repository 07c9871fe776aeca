"""Recorded passages with one fault each, for tests and for a look by hand.

>>> write_cases("/tmp/somewhere", "vane-offset", range(3))

writes ``vane-offset_0.nmea`` to ``vane-offset_2.nmea`` and beside each a ``.json`` with what is true of it and a
``.csv`` with the pressure that a station ashore tells. The fault is a key of FAULTS, or one of CLEAN: ``clean``
and ``nearly-clean``. From a shell, in the folder ``tests``:

    python -m simulator FAULT FOLDER [--seeds 0-11] [--hours 6]

Case ``seed`` of a fault is the same for ever, and the clean case of the same seed sails in the same conditions.
"""

import json
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import pandas as pd

from .displays import measured
from .faults import FAULTS
from .recorder import record, recorder_rng
from .rigs import Rig, clean_rig, generator, nearly_clean_rig

CLEAN = {"clean": clean_rig, "nearly-clean": nearly_clean_rig}


@dataclass(frozen=True)
class Case:
    fault: str
    seed: int
    rig: Rig

    @cached_property
    def voyage(self):
        return self.rig.sail(self.seed)

    def nmea(self):
        """The log, as bytes."""
        return record(self.voyage, self.seed, self.rig.fit, self.rig.spoil, self.rig.garble)

    def pressure_csv(self):
        """What a station nearby tells every hour: UTC time and sea-level pressure, with an error of 0.3 hPa."""
        shown = measured(recorder_rng(self.seed), self.voyage)["pressure_hpa"][::3600]
        error = generator("station", self.seed).normal(0, 0.3)
        times = pd.date_range(self.voyage.truth.start, periods=len(shown), freq="h")
        rows = [f"{t:%Y-%m-%dT%H:%M:%SZ},{p + error:.1f}" for t, p in zip(times, shown, strict=True)]
        return "\n".join(["time,pressure", *rows, ""])

    def told(self):
        """What is true of the case, as plain words and numbers."""
        rig = self.rig
        first = FAULTS[self.fault].first if self.fault in FAULTS else ()
        return {"fault": self.fault, "seed": self.seed, "first": first} | {
            name: str(getattr(rig, name))
            for name in (
                "hours",
                "heavy",
                "pilot",
                "tide_kn",
                "area",
                "start",
                "variation_deg",
                "errors",
                "fit",
            )
        }


def case(fault, seed, **changes):
    """Make case ``seed`` of ``fault``; ``changes`` are fields of the rig set before the fault is injected."""
    rng = generator("passage", seed)
    rig = replace(CLEAN.get(fault, clean_rig)(rng), **changes)
    if fault in FAULTS:
        rig = FAULTS[fault].inject(generator(fault, seed), rig)
    return Case(fault, seed, rig)


def write_cases(folder, fault, seeds, **changes):
    """Write the cases into a folder and return the paths of the logs."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for seed in seeds:
        made = case(fault, seed, **changes)
        path = folder / f"{fault}_{seed}.nmea"
        path.write_bytes(made.nmea())
        path.with_suffix(".csv").write_text(made.pressure_csv(), "utf-8")
        path.with_suffix(".json").write_text(json.dumps(made.told(), indent=1), "utf-8")
        paths.append(path)
    return paths
