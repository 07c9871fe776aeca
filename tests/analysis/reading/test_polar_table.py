"""Tables of boat speeds as people have them; every expected number stands in the text read."""

import numpy as np
import pytest

from analysis.errors import LogError
from analysis.polar_table import PolarTable
from analysis.reading.polar_table import read_polar_table
from analysis.writing.polar_table import polar_text, write_polar

SPEEDS = [[5.1, 6.0], [6.2, 7.05], [5.8, 6.9]]
FORMS = {
    "comma": "TWA,6,8\n52,5.1,6\n90,6.2,7.05\n150,5.8,6.9\n",
    "semicolon and decimal comma": "TWA;6;8\n52;5,1;6,0\n90;6,2;7,05\n150;5,8;6,9\n",
    "tab": "TWA\\TWS\t6\t8\n52\t5.1\t6.0\n90\t6.2\t7.05\n150\t5.8\t6.9\n",
    "blanks, no corner": "  6    8\n52  5.1 6.0\n90  6.2 7.05\n150 5.8 6.9\n",
    "blanks and decimal comma": "twa/tws 6 8\n52 5,1 6,0\n90 6,2 7,05\n150 5,8 6,9\n",
    "comma and blanks": "TWA, 6, 8\n52, 5.1, 6.0\n90, 6.2, 7.05\n150, 5.8, 6.9\n",
    "backward": "TWA;8;6\n150;6.9;5.8\n90;7.05;6.2\n52;6;5.1\n",
    "units, remarks, blank lines": "# of 2031\n\nTWA;6 kn;8 kn\n52°;5.1;6\n90°;6.2;7.05\n150°;5.8;6.9\n",
    "a separator at every end": "TWA;6;8;\n52;5.1;6;\n90;6.2;7.05;\n150;5.8;6.9;\n",
    "angles across": "TWS;52;90;150\n6;5.1;6.2;5.8\n8;6.0;7.05;6.9\n",
    "wind from port only": "TWA;6;8\n-52;5.1;6\n-90;6.2;7.05\n-150;5.8;6.9\n",
}


def read(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "table.txt"
    path.write_bytes(text.encode(encoding))
    return read_polar_table(path)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_every_form_is_the_same_table(tmp_path, form, encoding):
    table = read(tmp_path, FORMS[form], encoding)
    np.testing.assert_array_equal(table.twa_deg, [52, 90, 150])
    np.testing.assert_array_equal(table.tws_kn, [6, 8])
    np.testing.assert_array_equal(table.speed_kn, SPEEDS)
    assert table.port_kn is None


def test_fields_may_be_empty_and_rows_short(tmp_path):
    table = read(tmp_path, "TWA;6;8;10\n0;0;0;0\n52;5.1;;nan\n90;6.2\n")
    np.testing.assert_array_equal(table.speed_kn, [[0, 0, 0], [5.1, np.nan, np.nan], [6.2, np.nan, np.nan]])


@pytest.mark.parametrize("port", [("-52", "-90", "-180"), ("308", "270", "180")])
def test_two_sides_are_told_apart(tmp_path, port):
    text = f"TWA;6\n0;0\n52;5.1\n90;6.2\n180;4\n{port[0]};4.9\n{port[1]};6.0\n{port[2]};4\n"
    table = read(tmp_path, text)
    np.testing.assert_array_equal(table.twa_deg, [0, 52, 90, 180])
    np.testing.assert_array_equal(table.speed_kn[:, 0], [0, 5.1, 6.2, 4])
    np.testing.assert_array_equal(table.port_kn[:, 0], [0, 4.9, 6.0, 4])
    assert table.speed_at(np.array([6.0]), np.array([-52.0])) == 4.9


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("TWA;6;8\n", "no row below the header"),
        ("TWA;6;8\n52;5.1;fast\n", "line 2: 'fast' is no boat speed"),
        ("TWA;6;8\n52;5.1;-2\n", "line 2: '-2' is no boat speed"),
        ("TWA;6;x8y\n52;5.1;6\n", "line 1: 'x8y' is neither"),
        ("TWA;6;8\n52;5.1;6;7\n", "3 speeds for 2"),
        ("TWA;6;6\n52;5.1;6\n90;6;7\n", "stands twice in the header"),
        ("TWA;6;8\n52;5.1;6\n52;6;7\n", "52 stands twice"),
        ("TWA;6;8\n52;5.1;6\n", "fewer than two wind angles"),
        ("TWA;106;180\n120;5.1;6\n150;6;7\n", "angles go down the side"),
    ],
)
def test_what_cannot_be_used_is_said_in_a_sentence(tmp_path, text, said):
    with pytest.raises(LogError, match=said):
        read(tmp_path, text)


def test_no_file_and_a_large_one(tmp_path):
    with pytest.raises(LogError, match="cannot be read"):
        read_polar_table(tmp_path / "none")
    with pytest.raises(LogError, match="larger than any polar table"):
        read(tmp_path, "TWA;6;8\n" * 200_000)


@pytest.mark.parametrize("port", [None, np.array([[0.0], [4.9]])])
def test_what_is_written_is_read_back(tmp_path, port):
    table = PolarTable(np.array([0.0, 52.0]), np.array([6.0]), np.array([[0.0], [5.1]]), port)
    path = tmp_path / "polar.csv"
    write_polar(table, path)
    back = read_polar_table(path)
    np.testing.assert_array_equal(back.speed_kn, table.speed_kn)
    np.testing.assert_array_equal(back.twa_deg, table.twa_deg)
    assert (back.port_kn is None) == (port is None)
    gaps = PolarTable(np.array([40.0, 52.0]), np.array([6.0, 8.0]), np.array([[4.0, np.nan], [5.1, 5.6]]))
    assert polar_text(gaps) == "TWA,6,8\n40,4.00,\n52,5.10,5.60\n"
