"""Times of sentences: what a log's clocks can do wrong, one case each, with the right times known.

Every log here is made by hand: the true moment of each sentence is the one it was made for, and the depth tells
which sentence is which (it counts up by 0.1). A sentence between two GNSS times can be placed no better than to
the spacing of its neighbours; unless said otherwise that is a quarter of a second.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from analysis import read_log
from analysis.passage import Passage
from analysis.phrasing import with_checksums

Moment = float
DAY_S = 86400.0
ROLLOVER_S = 1024 * 7 * DAY_S
START = datetime(2026, 6, 3, 10, 0, 0, tzinfo=UTC).timestamp()
SPACING_S = 0.25


def clock(moment: Moment) -> str:
    return f"{datetime.fromtimestamp(moment, UTC):%H%M%S}.{round(moment % 1 * 100):02d}"


def ddmmyy(moment: Moment) -> str:
    return f"{datetime.fromtimestamp(moment, UTC):%d%m%y}"


def rmc(moment: Moment, day: str | None = None, talker: str = "GP", status: str = "A") -> str:
    day = ddmmyy(moment) if day is None else day
    return f"{talker}RMC,{clock(moment)},{status},3300.0000,N,02000.0000,W,5.00,90.0,{day},4.7,W"


def gga(moment: Moment) -> str:
    return f"GPGGA,{clock(moment)},3300.0000,N,02000.0000,W,1,09,0.9,2.0,M,51.2,M,,"


def gll(moment: Moment) -> str:
    return f"GPGLL,3300.0000,N,02000.0000,W,{clock(moment)},A,A"


def zda(moment: Moment) -> str:
    return f"GPZDA,{clock(moment)},{datetime.fromtimestamp(moment, UTC):%d,%m,%Y},00,00"


class Log:
    """Sentences with the moment each was sent; depths tell them apart."""

    def __init__(self) -> None:
        self.bodies: list[str] = []
        self.prefixes: list[str] = []
        self.sounded_s: list[Moment] = []

    def add(self, body: str, prefix: str = "") -> None:
        self.bodies.append(body)
        self.prefixes.append(prefix)

    def sounding(self, moment: Moment, prefix: str = "") -> None:
        self.add(f"SDDPT,{len(self.sounded_s) / 10:.1f},0.0", prefix)
        self.sounded_s.append(moment)

    def seconds(self, moments: Iterable[Moment], *, wrong_s: float = 0.0, day: str | None = None) -> "Log":
        """One RMC at each moment, whose clock is wrong by ``wrong_s``, and three soundings over the second after."""
        for moment in moments:
            self.add(rmc(moment + wrong_s, day))
            for k in range(1, 4):
                self.sounding(moment + k * SPACING_S)
        return self

    def stamped(
        self, moments: Iterable[Moment], stamp_s: "np.ufunc | object", layout: str, gnss: bool = True
    ) -> "Log":
        """As ``seconds``, every line under the recorder's stamp; ``stamp_s`` turns a moment into what it wrote."""
        for moment in moments:
            for k in range(4):
                here = moment + k * SPACING_S
                prefix = layout.format(datetime.fromtimestamp(stamp_s(here), UTC), stamp_s(here))  # type: ignore[operator]
                if k:
                    self.sounding(here, prefix)
                elif gnss:
                    self.add(rmc(here), prefix)
        return self

    def read(self, folder: Path, name: str = "log.nmea", day: date | None = None) -> Passage:
        path = folder / name
        lines = (p + line for p, line in zip(self.prefixes, with_checksums(self.bodies), strict=True))
        path.write_text("".join(f"{line}\r\n" for line in lines), "ascii")
        return read_log(path, date=day)

    def errors_s(self, passage: Passage) -> np.ndarray:
        """Time read minus true time of each sounding."""
        one = next(one for key, one in passage.series.items() if key.channel == "depth_m")
        assert len(one.value) == len(self.sounded_s)
        order = np.rint(one.value * 10).astype(int)
        assert (np.diff(one.time_s) >= 0).all()
        return one.time_s - np.array(self.sounded_s)[order]


def numbers(passage: Passage, name: str) -> dict[str, float | str]:
    found = [fact for fact in passage.facts if fact.id == name]
    assert len(found) == 1, [fact.id for fact in passage.facts]
    return dict(found[0].numbers)


def names(passage: Passage) -> set[str]:
    return {fact.id for fact in passage.facts}


def span(first: Moment, count: int) -> list[Moment]:
    return [first + k for k in range(count)]


CLOCK_FACTS = {
    "clock-backward", "clock-never-set", "clock-stepped-back", "no-date", "no-time", "stamps-drift",
    "stamps-local", "stamps-off", "stamps-unzoned", "stamps-wander", "two-clocks", "week-rollover",
}  # fmt: skip


def test_sentences_between_two_gnss_times_are_spread_in_order(tmp_path: Path) -> None:
    log = Log().seconds(span(START, 60))
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6  # even spacing is what interpolation by order gives
    assert not names(passage) & CLOCK_FACTS
    assert "GPRMC" in passage.time_basis


def test_a_clock_that_speaks_every_ten_seconds(tmp_path: Path) -> None:
    log = Log()
    for moment in span(START, 60)[::10]:
        log.add(zda(moment))
        for k in range(1, 10):
            log.sounding(moment + k)
    assert np.abs(log.errors_s(log.read(tmp_path))).max() <= 0.01  # evenly sent, so exactly placed


def test_midnight(tmp_path: Path) -> None:
    log = Log().seconds(span(START + 14 * 3600 - 30, 60))
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    assert not names(passage) & CLOCK_FACTS


def test_two_days_without_a_date_between_their_ends(tmp_path: Path) -> None:
    log = Log()
    for k in range(0, 48 * 60):  # a sentence a minute, the date in the first alone
        log.add(gga(START + 60 * k) if k else rmc(START))
        log.sounding(START + 60 * k + 30)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() <= 30


def test_a_date_that_turns_a_second_late(tmp_path: Path) -> None:
    """Some receivers change the date a sentence after the time has passed midnight, others before."""
    midnight = START + 14 * 3600
    for late_s in (1, -1):
        log = Log()
        for moment in span(midnight - 30, 60):
            log.add(rmc(moment, ddmmyy(moment - late_s)))
            log.sounding(moment + 0.5)
        passage = log.read(tmp_path)
        assert np.abs(log.errors_s(passage)).max() < 1e-6


def test_leap_second(tmp_path: Path) -> None:
    """235960 is a second of its own, which seconds since 1970 cannot count: it shares a place with its neighbour."""
    midnight = datetime(2017, 1, 1, tzinfo=UTC).timestamp()
    log = Log().seconds(span(midnight - 20, 20))
    log.add(rmc(midnight, "311216").replace("000000.00", "235960.00"))
    for k in range(1, 4):
        log.sounding(midnight + k * SPACING_S)
    log.seconds(span(midnight, 20))
    passage = log.read(tmp_path)
    errors = np.abs(log.errors_s(passage))
    assert errors[60:66].max() <= 0.5  # two seconds of soundings share one second of places
    assert np.delete(errors, np.s_[60:66]).max() < 1e-6
    assert not names(passage) & CLOCK_FACTS


@pytest.mark.parametrize("eras", [1, 2])
def test_week_rollover_shown_by_the_date_given(eras: int, tmp_path: Path) -> None:
    log = Log().seconds(span(START, 30), wrong_s=-eras * ROLLOVER_S)
    passage = log.read(tmp_path, day=date(2026, 6, 3))
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    assert numbers(passage, "week-rollover") == {"days": eras * 7168.0, "evidence": "the date given"}


def test_week_rollover_shown_by_stamps(tmp_path: Path) -> None:
    log = Log()
    for moment in span(START, 30):
        log.add(rmc(moment - ROLLOVER_S), f"{datetime.fromtimestamp(moment, UTC):%Y-%m-%dT%H:%M:%S}.000Z ")
        log.sounding(moment + 0.5, f"{datetime.fromtimestamp(moment + 0.5, UTC):%Y-%m-%dT%H:%M:%S}.500Z ")
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-3
    assert numbers(passage, "week-rollover")["evidence"] == "the recorder's stamps"


@pytest.mark.parametrize("name", ["log_2026-06-03.nmea", "log_20260603.nmea", "1780480000000.txt"])
def test_week_rollover_shown_by_the_name_of_the_file(name: str, tmp_path: Path) -> None:
    log = Log().seconds(span(START, 30), wrong_s=-ROLLOVER_S)
    passage = log.read(tmp_path, name)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    assert numbers(passage, "week-rollover")["evidence"] == "the date in the file's name"


def test_week_rollover_inside_one_log(tmp_path: Path) -> None:
    """A cold start tells the old era until the almanac is in; the later dates show it."""
    log = Log().seconds(span(START, 60), wrong_s=-ROLLOVER_S).seconds(span(START + 60, 60))
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    assert numbers(passage, "week-rollover")["evidence"] == "other dates in the same log"


def test_no_date_anywhere(tmp_path: Path) -> None:
    log = Log()
    for moment in span(START, 30):
        log.add(gga(moment))
        log.sounding(moment + 0.5)
    passage = log.read(tmp_path)
    assert "no-date" in names(passage)
    assert np.abs(log.errors_s(passage) + START - START % DAY_S).max() < 1e-6  # on 1970-01-01
    passage = log.read(tmp_path, day=date(2026, 6, 3))
    assert "no-date" not in names(passage)
    assert np.abs(log.errors_s(passage)).max() < 1e-6


def test_no_date_past_midnight_with_the_date_given(tmp_path: Path) -> None:
    """The date given is the one on which the log begins."""
    log = Log()
    for moment in span(START + 14 * 3600 - 30, 60):
        log.add(gll(moment))
        log.sounding(moment + 0.5)
    assert np.abs(log.errors_s(log.read(tmp_path, day=date(2026, 6, 3)))).max() < 1e-6


def test_date_at_the_end_alone(tmp_path: Path) -> None:
    """Past midnight, so that the early sentences belong to the day before the date."""
    log = Log()
    for moment in span(START + 14 * 3600 - 100, 150):
        log.add(gga(moment))
        log.sounding(moment + 0.5)
    log.add(zda(START + 14 * 3600 + 50))
    assert np.abs(log.errors_s(log.read(tmp_path))).max() < 1e-6


def test_zda_dates_the_times_of_other_sentences(tmp_path: Path) -> None:
    log = Log()
    for k, moment in enumerate(span(START, 60)):
        log.add(gga(moment))
        log.add(gll(moment))
        if k % 10 == 5:
            log.add(zda(moment))
        log.sounding(moment + 0.75)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() <= 0.75  # ZDA takes a place in the order of arrival
    lat = next(one for key, one in passage.series.items() if key[:3] == ("lat_deg", "GP", "GGA"))
    assert lat.time_s.tolist() == span(START, 60)  # a sentence that states its time has that time


def test_clock_that_runs_backward_for_a_moment(tmp_path: Path) -> None:
    """Steps back of some seconds now and then, as from a second, coarser clock: order of arrival rules there."""
    log = Log()
    for k, moment in enumerate(span(START, 200)):
        log.add(rmc(moment - (moment % 10 if k % 20 == 7 else 0)))
        for j in range(1, 4):
            log.sounding(moment + j * SPACING_S)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 0.25  # RMC without its time counts as one more in the order
    assert numbers(passage, "clock-backward")["sentences"] == 10


def test_clock_that_steps_back_for_good(tmp_path: Path) -> None:
    """A second day copied before the first: the parts are put in order of time."""
    log = Log().seconds(span(START + DAY_S, 60)).seconds(span(START, 60))
    passage = log.read(tmp_path)
    assert (
        np.abs(log.errors_s(passage)).max() < SPACING_S + 1e-6
    )  # three soundings at the joint have one anchor only
    assert "clock-stepped-back" in names(passage)


def test_days_run_together_in_one_file(tmp_path: Path) -> None:
    log = (
        Log()
        .seconds(span(START, 60))
        .seconds(span(START + DAY_S - 7200, 60))
        .seconds(span(START + 2 * DAY_S, 60))
    )
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    assert [round(gap.end_s - gap.start_s) for gap in passage.gaps] == [79140, 93540]


def test_two_receivers_that_tell_different_times(tmp_path: Path) -> None:
    log = Log()
    for moment in span(START, 120):
        log.add(rmc(moment))
        log.add(rmc(moment + 7, talker="II"))
        log.sounding(moment + 2 / 3)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    fact = numbers(passage, "two-clocks")
    assert fact["source"] == "IIRMC"
    assert fact["lag_s"] == pytest.approx(7 - 1 / 3, abs=0.05)
    assert "GPRMC" in passage.time_basis


@pytest.mark.parametrize("zone_h", [9.0, -7.0, 5.75, 1.0])
def test_stamps_in_local_time(zone_h: float, tmp_path: Path) -> None:
    log = Log().stamped(span(START, 120), lambda s: s + zone_h * 3600, "{0:%Y/%m/%d %H:%M:%S.%f},")
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 0.01
    assert numbers(passage, "stamps-local")["zone_h"] == zone_h


@pytest.mark.parametrize("wrong_s", [40.0, -200.0, 86400.0 * 30])
def test_recorder_clock_that_is_off(wrong_s: float, tmp_path: Path) -> None:
    log = Log().stamped(span(START, 120), lambda s: s + wrong_s, "{1:.3f} ")
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 0.01
    assert numbers(passage, "stamps-off")["recorder_minus_gnss_s"] == pytest.approx(wrong_s, abs=0.1)


def test_recorder_clock_that_drifts(tmp_path: Path) -> None:
    """One part in a thousand: 7.2 s over two hours; the fact may be short of it by half a window of smoothing."""
    log = Log().stamped(span(START, 7200), lambda s: s + (s - START) * 1e-3, "{1:.3f} ")
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 0.35
    assert numbers(passage, "stamps-drift")["drift_s"] == pytest.approx(7.2, abs=0.4)


def test_stamps_alone(tmp_path: Path) -> None:
    log = Log().stamped(span(START, 60), lambda s: s, "{0:%Y-%m-%d %H:%M:%S.%f} ", gnss=False)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-5
    assert "stamps-unzoned" in names(passage)


def test_tag_stamps_in_whole_seconds(tmp_path: Path) -> None:
    """The GNSS time places sentences within the second that the stamp leaves open."""
    log = Log()
    for moment in span(START, 120):
        tag = with_checksums([f"s:DEV,c:{moment:.0f}"], start="\\")[0] + "\\"
        log.add(rmc(moment), tag)
        for k in range(1, 4):
            log.sounding(moment + k * SPACING_S, tag)
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 0.01
    assert not names(passage) & CLOCK_FACTS


def test_silence_of_twenty_hours(tmp_path: Path) -> None:
    log = Log().seconds(span(START, 60)).seconds(span(START + 20 * 3600, 60))
    passage = log.read(tmp_path)
    assert np.abs(log.errors_s(passage)).max() < 1e-6
    (gap,) = passage.gaps
    assert gap.start_s == pytest.approx(START + 59.75)
    assert gap.end_s == pytest.approx(START + 20 * 3600)
    assert len(passage.frame) < 200  # the silence is no row of the frame


def test_power_cycle_with_the_date_unset_at_first(tmp_path: Path) -> None:
    """Before the fix: no time, then the right time of day under the date 010180, then all is well."""
    log = Log().seconds(span(START, 60))
    for moment in span(START + 600, 20):
        log.add("GPRMC,,V,,,,,,,,,")
        log.sounding(moment + 0.5)
    for moment in span(START + 620, 20):
        log.add(rmc(moment, "010180", status="V"))
        log.sounding(moment + 0.5)
    log.seconds(span(START + 640, 60))
    passage = log.read(tmp_path)
    errors = np.abs(log.errors_s(passage))
    assert np.delete(errors, np.s_[180:200]).max() < 0.3
    assert errors.max() < 11  # twenty sentences without a clock can only be counted back from the first time
    assert "clock-never-set" in names(passage)


def test_neither_clock_nor_stamp(tmp_path: Path) -> None:
    log = Log()
    for moment in span(START, 30):
        log.sounding(moment)
    passage = log.read(tmp_path)
    assert "no-time" in names(passage)
    assert all(np.isnan(one.time_s).all() for one in passage.series.values())
    assert passage.frame.empty
