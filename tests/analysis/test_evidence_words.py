"""Evidence written for a person."""

from analysis.evidence_words import evidence_rows


def test_numbers_get_their_unit_and_their_interval() -> None:
    rows = evidence_rows({"off_percent": -6.512, "off_percent_sd": 0.1, "mean_speed_kn": 6.0, "turns": 12})
    # 1.96 x 0.1 = 0.196
    assert [tuple(row) for row in rows] == [
        ("Off", "-6.512 % ± 0.2 %"),
        ("Mean speed", "6 kn"),
        ("Turns", "12"),
    ]


def test_moments_words_lists_and_what_is_unknown() -> None:
    rows = evidence_rows(
        {
            "at_utc": "2026-06-01T08:00:05Z",
            "why": "it is steadier",
            "lag_s": None,
            "repeat": True,
            "within_allowed": 0.25,
            "methods": [{"name": "full turn", "value": 1.05, "sd": 0.01}],
            "stretches": [{"start_utc": "2026-06-01T08:00:00Z", "value": 3.2}],
        }
    )
    assert [tuple(row) for row in rows] == [
        ("At", "2026-06-01 08:00:05 UTC"),
        ("Why", "it is steadier"),
        ("Repeat", "yes"),
        ("Within allowed", "25 %"),
        ("By the full turn", "1.05 ± 0.02"),
        ("Stretches 1", "Start 2026-06-01 08:00:00 UTC, Value 3.2"),
    ]


def test_a_position_is_told_as_one() -> None:
    rows = evidence_rows({"lat_deg": 50.05, "lon_deg": -1.485, "sentences": 2})
    assert [(row.name, row.text) for row in rows] == [
        ("Position", "50°03.000′N  001°29.100′W"),  # 0.05 and 0.485 of a degree in minutes, by hand
        ("Sentences", "2"),
    ]
