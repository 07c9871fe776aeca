"""Positions as people write them; every expected number is worked out by hand."""

import pytest

from analysis.errors import SettingError
from analysis.positions import parse_position


@pytest.mark.parametrize(
    "text",
    [
        "50.105N 1.25W",
        "50.105 -1.25",
        "50°06.30'N 001°15.00'W",
        "50°06.300′N  001°15.000′W",
        "50 6 18 n, 1 15 0 w",
        "50.105N,1.25W",
    ],
)
def test_one_place_in_many_writings(text: str) -> None:
    # 50° 6.3' = 50 + 6.3 / 60 = 50.105°; 1° 15' = 1.25°; 18" = 0.3'.
    assert parse_position(text) == pytest.approx((50.105, -1.25), abs=1e-9)


def test_south_and_east() -> None:
    assert parse_position("33 30 S 18 12 E") == pytest.approx((-33.5, 18.2))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "here",
        "50.1",
        "50.1N",
        "1.25W 50.1N",
        "50 61 N 1 15 W",
        "-50.1N 1.2W",
        "50 1 2 3 N 1 W",
        "N50.1 W1.25",
        "50.1; drop",
    ],
)
def test_what_is_no_position_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(SettingError, match="write it as 50"):
        parse_position(text)


@pytest.mark.parametrize("text", ["50,10N 1,25W", "50.1N 1,25W", "50°06,30′N 001°15,00′W"])
def test_a_decimal_comma_is_not_read_as_minutes(text: str) -> None:
    with pytest.raises(SettingError, match=r"comma .* write the decimals with a point"):
        parse_position(text)


def test_a_comma_between_two_numbers_parts_them() -> None:
    assert parse_position("50.1,-1.25") == (50.1, -1.25)
    assert parse_position("50.1,1.25") == (50.1, 1.25)


def test_a_place_off_the_globe() -> None:
    with pytest.raises(SettingError, match="off the globe"):
        parse_position("95N 12E")
