"""What the Sources page says, without a browser."""

import re
from dataclasses import replace

import numpy as np
import pytest
from passages import day_at_sea, reviewed, spoken
from samples import SAMPLES

from analysis import Review, read_log
from analysis.assembly import with_sources
from analysis.passage import SourceKey
from analysis.review import Settings, assess, reassessed
from app.desk import Desk
from app.dress import Dress
from app.pages import sources
from app.view import View

SAMPLE = SAMPLES / "swing-day.nmea.gz"
OFF_DEG = 6.0
GYRO = SourceKey("heading_true_deg", "HE", "HDT", "")


@pytest.fixture(scope="module")
def two_compasses() -> Review:
    """A passage with every instrument right but a second compass that stands 6 deg to the right of the first."""
    passage = read_log(SAMPLE)
    heard = passage.series[SourceKey("heading_true_deg", "VW", "VHW", "")]
    noise = np.random.default_rng(1).normal(0, 0.4, len(heard.value))
    gyro = replace(heard, key=GYRO, value=np.round((heard.value + OFF_DEG + noise) % 360, 1))
    return assess(with_sources(replace(passage, series={**passage.series, GYRO: gyro}), {}), Settings())


def said(one: Review) -> str:
    return spoken(sources.layout(View(Desk([]).open(one), Dress())))


def test_two_compasses_that_disagree_are_told_with_the_one_to_trust(two_compasses: Review) -> None:
    text = said(two_compasses)
    assert text.startswith("The two headings disagree: HEHDT (gyrocompass) shows 6.0°")
    assert "Trust HCHDG (magnetic compass):" in text
    told = re.search(r"HEHDT \(gyrocompass\), true Use this one instead .*? \+([\d.]+) ± ([\d.]+)°", text)
    assert told
    assert abs(float(told[1]) - OFF_DEG) <= float(told[2]) + 0.01
    assert "Use this one instead" in text
    assert "It is not the one in use" not in text


def test_the_untrusted_one_in_use_is_said_to_be_so(two_compasses: Review) -> None:
    other = reassessed(two_compasses, sources={GYRO.channel: GYRO[1:]})
    text = said(other)
    assert "It is not the one in use." in text
    assert "Chosen by hand: Heading from HEHDT (gyrocompass)." in text


def test_a_change_of_sources_says_what_it_did(two_compasses: Review) -> None:
    other = reassessed(two_compasses, sources={GYRO.channel: GYRO[1:]})
    text = sources.changed_text(two_compasses, other, Dress())
    # The wind as shown turns with the heading, by 6 deg; the calibration takes it back: constant 0.0 to -6.0.
    assert "compass constant 0.0° → -6.0°" in text
    before, after = (int(part[-4:-1]) for part in text.split(" as shown")[0].split(" → "))
    assert (after - before) % 360 == OFF_DEG
    assert "mean current still" in text
    assert sources.changed_text(two_compasses, two_compasses, Dress()).count("→") == 0


def test_a_log_that_speaks_throughout_needs_no_stand_in(two_compasses: Review) -> None:
    assert "it is not needed. Here it would leave a current of 0.5 kn" in said(two_compasses)


def test_a_silent_log_says_what_sog_in_its_place_costs() -> None:
    frame = day_at_sea(hours=1.0)
    frame.loc[frame.index[900:], "stw_kn"] = np.nan
    # of 3601 s the GNSS is lost for 144, all of them after the log fell silent
    text = said(reviewed(frame))
    assert "The log is silent for 42 min 37 s of 57 min 37 s under way." in text
    assert "Current goes unseen" in text


def test_one_source_of_each_is_nothing_to_compare() -> None:
    text = said(reviewed(day_at_sea(hours=0.2)[["stw_kn", "awa_deg"]]))
    assert "none is checked against another" in text
    assert "STW VWVHW" in text
