"""What is kept out of the frame is counted, and its median kept as the trace of what went wrong."""

from pathlib import Path

import pytest
from written import read_text, sentence


def test_the_median_of_impossible_readings_is_kept(tmp_path: Path) -> None:
    bodies = [f"WIXDR,P,{value},B,Barometer" for value in (29.90, 29.92, 29.95, 1.013)]
    counts = read_text(tmp_path, "\r\n".join(sentence(body) for body in bodies)).counts
    assert counts.out_of_range == {"air_pressure_hpa": 3}
    assert counts.typical_impossible == {"air_pressure_hpa": pytest.approx(29_920)}  # 1 bar is 1000 hPa


def test_where_all_is_possible_there_is_none(tmp_path: Path) -> None:
    assert read_text(tmp_path, sentence("WIXDR,P,1.013,B,Barometer")).counts.typical_impossible == {}
