"""Demo passages with known errors. ``invent`` is the one way in; SCENARIOS lists what it can invent."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from analysis.errors import SettingError
from analysis.invent.boat import sail
from analysis.invent.catalogue import SCENARIOS
from analysis.invent.motion import true_state
from analysis.invent.noise import Floats
from analysis.invent.scenario import Boat, Errors, Instrument, Leg, Scenario, Sea, Sensors, Spell, Target
from analysis.invent.sea import draw_weather
from analysis.invent.sensors import shown_state, vane_shown_deg
from analysis.invent.sentences import SENTENCES, Sample
from analysis.invent.traffic import traffic_lines
from analysis.invent.transponder import transponder_lines
from analysis.invent.truth import tell_truth
from analysis.invent.wrapping import Wrapping, wrap_lines
from analysis.passage import Bools, Ints
from analysis.phrasing import with_checksums

__all__ = [
    "SCENARIOS",
    "Boat",
    "Errors",
    "Instrument",
    "Invention",
    "Leg",
    "Scenario",
    "Sea",
    "Sensors",
    "Spell",
    "Target",
    "Wrapping",
    "invent",
    "wrap_lines",
]

_STEP_S = 0.1
_LONGEST_H = 240.0
_JITTER_S = 0.008


@dataclass(frozen=True)
class Invention:
    """An invented log: sentences in order of arrival, when each arrived, and the truth behind them.

    ``time_s`` is seconds since 1970-01-01 UTC, one per line; ``damaged_lines`` counts from 1; ``track`` is
    the true state at 1 s under the channel names, indexed by ``time_utc``; ``truth`` is ready for JSON.
    """

    lines: list[str]
    time_s: Floats
    damaged_lines: tuple[int, ...]
    truth: dict[str, Any]
    track: pd.DataFrame

    def log_bytes(self, wrapping: Wrapping = "bare") -> bytes:
        """Return the log as a multiplexer records it: CR LF after every line."""
        return "".join(f"{line}\r\n" for line in wrap_lines(self.lines, self.time_s, wrapping)).encode(
            "ascii"
        )


def invent(
    scenario: str | Scenario, seed: int = 1, hours: float | None = None, errors: Errors | None = None
) -> Invention:
    """Invent the log of a passage; the same arguments give the same bytes.

    ``scenario`` is a name of SCENARIOS or a Scenario of one's own; ``hours`` cuts the plan short or sails it
    again, the shorter passage being the start of the longer; ``errors`` replaces the scenario's errors while
    wind and sea stay the same. Raises SettingError.
    """
    name = scenario if isinstance(scenario, str) else "own"
    plan = _named(scenario) if isinstance(scenario, str) else scenario
    if errors is not None:
        plan = replace(plan, errors=errors)
    duration_h = plan.hours if hours is None else hours
    if not 0 < duration_h <= _LONGEST_H:
        raise SettingError(
            f"A passage of {duration_h:g} h cannot be invented: give 0 < hours <= {_LONGEST_H:g}."
        )

    for_sea, for_helm, for_sensors, for_lines, for_traffic, for_own_ais = np.random.default_rng(seed).spawn(6)
    step_h = np.arange(max(round(duration_h * 3600 / _STEP_S), 20)) * _STEP_S / 3600
    weather = draw_weather(plan.sea, step_h, _STEP_S, for_sea)

    def vane_error(awa_deg: float) -> float:
        return float(misread[round(awa_deg) + 180])

    misread = _misreading(plan.errors)
    sailed = sail(plan.boat, plan.legs, weather, _STEP_S, vane_error, for_helm)
    state = true_state(sailed, weather, plan.lat_deg, plan.lon_deg, _STEP_S)
    shown = shown_state(plan, state, weather, step_h, _STEP_S, for_sensors)

    start = pd.Timestamp(plan.start_utc, tz="UTC")
    every = round(1 / _STEP_S)
    index = pd.date_range(start, periods=len(step_h[::every]), freq="s", name="time_utc")
    track = pd.DataFrame({channel: values[::every] for channel, values in state.items()}, index=index)

    time_s, lines = _speak(plan, shown, start.timestamp(), for_lines)
    seconds = start.timestamp() + np.arange(len(track), dtype=np.float64)
    met = traffic_lines(plan, seconds, track["lat_deg"].to_numpy(), track["lon_deg"].to_numpy(), for_traffic)
    time_s, lines, _ = _merged((time_s, lines), met)
    damaged = _damage(lines, plan.errors.damaged, for_lines)
    # The own AIS joins when all else is said, which is thus the same with it and without.
    own = transponder_lines(plan, seconds, track, for_own_ais)
    damaged_too = _damage(own[1], plan.errors.damaged, for_own_ais)
    time_s, lines, order = _merged((time_s, lines), own)
    wrong = np.flatnonzero(np.concatenate([damaged, damaged_too])[order]) + 1
    return Invention(lines, time_s, tuple(wrong.tolist()), tell_truth(plan, name, seed, track), track)


def _merged(*streams: tuple[Floats, list[str]]) -> tuple[Floats, list[str], Ints]:
    """Put lines in the order of time; returns their times, the lines, and the order they were put in."""
    time_s = np.concatenate([one for one, _ in streams])
    lines = [line for _, several in streams for line in several]
    order = np.argsort(time_s, kind="stable")
    return time_s[order], [lines[i] for i in order.tolist()], order


def _named(name: str) -> Scenario:
    if name not in SCENARIOS:
        raise SettingError(
            f"The scenario {name!r} is not known: choose one of {', '.join(sorted(SCENARIOS))}."
        )
    return SCENARIOS[name]


def _misreading(errors: Errors) -> Floats:
    """Shown minus true AWA [deg] at every whole degree from -180 to 180; a mirrored vane steers nobody."""
    awa = np.arange(-180.0, 181.0)
    shown = vane_shown_deg(awa, replace(errors, vane_mirrored=False))
    return (shown - awa + 180) % 360 - 180


def _speak(
    plan: Scenario, shown: dict[str, Floats], start_s: float, rng: np.random.Generator
) -> tuple[Floats, list[str]]:
    """Write every sentence fitted, each at its own rate; a GNSS sentence tells of its whole second."""
    steps = len(shown["stw_kn"])
    times: list[Floats] = []
    lines: list[str] = []
    for name, rate_hz in plan.sensors.rates_hz.items():
        sentence = SENTENCES[name]
        at = np.arange(int(steps * _STEP_S * rate_hz)) / rate_hz + sentence.phase_s
        at = at + rng.spawn(1)[0].random(len(at)) * _JITTER_S
        for spell in plan.errors.lost:
            if spell.sensor == sentence.sensor:
                at = at[(at < spell.start_h * 3600) | (at >= spell.end_h * 3600)]
        moment = np.floor(at) if sentence.sensor == "gnss" else at
        rows = np.minimum(np.rint(moment / _STEP_S).astype(np.int64), steps - 1)
        sample = Sample(start_s + at, {column: values[rows] for column, values in shown.items()}, plan)
        times.append(start_s + at)
        lines.extend(with_checksums(sentence.build(sample)))
    return np.concatenate(times), lines


def _damage(lines: list[str], share: float, rng: np.random.Generator) -> Bools:
    """Change one character of a share of the sentences in place, so that their checksums fail; returns which."""
    lots = rng.random((len(lines), 2))
    chosen = lots[:, 0] < share
    for i in np.flatnonzero(chosen).tolist():
        at = 1 + int(lots[i, 1] * (lines[i].rindex("*") - 1))
        lines[i] = lines[i][:at] + chr(ord(lines[i][at]) ^ 1) + lines[i][at + 1 :]
    return chosen
