"""Reception ranges of real AIS recordings, against figures decoded elsewhere with pyais 3.3.1.

The recordings come from the gpsd project's regression logs (BSD-2-Clause). No identity is quoted.
"""

from pathlib import Path

import numpy as np
import pytest

from analysis import decode_ais, read_log, review
from analysis.earth import hop

pytestmark = pytest.mark.recording


def ranges_nm(path: Path) -> np.ndarray:
    """Greatest range of each station heard, from the median own position, sorted."""
    passage = read_log(path)
    own_lat, own_lon = passage.frame["lat_deg"].median(), passage.frame["lon_deg"].median()
    messages, lost = decode_ais(passage.ais)
    assert lost == 0
    heard = messages[~messages["own"] & messages["lat_deg"].notna()]
    distance = hop(own_lat, own_lon, heard["lat_deg"].to_numpy(), heard["lon_deg"].to_numpy()).distance_nm
    return np.sort(heard.assign(range_nm=distance).groupby("mmsi")["range_nm"].max().to_numpy())


def test_class_b_receiver_of_2009(recordings: Path) -> None:
    ranges = ranges_nm(recordings / "ais_class_b_own_ship_2009.log")
    assert len(ranges) == 20
    assert ranges[10] == pytest.approx(25.8, abs=0.05)  # the median given is the upper of the two middle ones
    assert ranges.max() == pytest.approx(37.8, abs=0.05)


def test_moored_among_ships_2020(recordings: Path) -> None:
    ranges = ranges_nm(recordings / "moored_with_ais_2020.log")
    assert len(ranges) == 30
    assert ranges.max() == pytest.approx(1.35, abs=0.005)


def test_one_target_of_2011(recordings: Path) -> None:
    assert ranges_nm(recordings / "transponder_2011.log") == pytest.approx([1.55], abs=0.005)


@pytest.mark.parametrize(
    ("name", "stations", "farthest"),
    [
        ("ais_class_b_own_ship_2009.log", 20, 37.8),
        ("moored_with_ais_2020.log", 30, 1.35),
        ("transponder_2011.log", 1, 1.55),
    ],
)
def test_traffic_tells_the_same_ranges(recordings: Path, name: str, stations: int, farthest: float) -> None:
    told = review(recordings / name).case.traffic
    assert len(told.encounters) == stations
    placed = told.stations[told.stations["reports"] > 0]
    assert placed["farthest_nm"].max() == pytest.approx(
        farthest, abs=0.1
    )  # here from where the boat then was
