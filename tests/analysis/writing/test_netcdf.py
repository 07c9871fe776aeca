"""NetCDF read back with xarray, and held to the CF conventions rule by rule."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray

from analysis.channels import CHANNELS
from analysis.errors import WriteError
from analysis.passage import Passage
from analysis.writing import write_frame
from analysis.writing.netcdf import STANDARD_NAMES

# Canonical units of the CF standard-name table: what the units written must convert to.
CANONICAL = {
    "latitude": "degree_north",
    "longitude": "degree_east",
    "platform_speed_wrt_ground": "m s-1",
    "platform_course": "degree",
    "platform_speed_wrt_sea_water": "m s-1",
    "platform_orientation": "degree",
    "platform_roll_starboard_down": "degree",
    "platform_yaw_rate_fore_starboard": "degree s-1",
    "wind_from_direction": "degree",
    "wind_speed": "m s-1",
    "sea_water_velocity_to_direction": "degree",
    "sea_water_speed": "m s-1",
    "sea_water_temperature": "K",
    "air_temperature": "K",
    "dew_point_temperature": "K",
    "relative_humidity": "1",
    "air_pressure": "Pa",
}
# What each unit measures, by UDUNITS-2, from memory.
MEASURES = {
    "m s-1": "speed", "knot": "speed", "degree": "angle", "degree_north": "angle", "degree_east": "angle",
    "degrees_north": "angle", "degrees_east": "angle", "degree s-1": "turning", "degree minute-1": "turning",
    "K": "temperature", "degree_Celsius": "temperature", "1": "share", "percent": "share", "Pa": "pressure",
    "hPa": "pressure", "m": "length", "nautical_mile": "length", "hour": "time", "minute": "time", "volt": "voltage",
    "minute-1": "frequency",
}  # fmt: skip


@pytest.fixture
def passage(small_passage: Passage) -> Passage:
    frame = small_passage.frame.copy()
    frame["twd_ground_deg"], frame["twd_ground_deg_sd"], frame["stw_kn_shown"] = 245.5, 1.5, 4.0
    frame["air_pressure_hpa"] = 1013.25
    return dataclasses.replace(small_passage, frame=frame, files=("matin d’été.log",))


@pytest.fixture
def dataset(passage: Passage, tmp_path: Path) -> xarray.Dataset:
    write_frame(passage.frame, passage, tmp_path / "out.nc")
    with xarray.open_dataset(tmp_path / "out.nc") as opened:
        return opened.load()


def test_xarray_reads_the_frame_s_values_where_there_is_a_position(
    dataset: xarray.Dataset, passage: Passage
) -> None:
    placed = passage.frame.dropna(subset=["lat_deg", "lon_deg"])
    assert len(placed) == 8  # of ten rows, two without a position
    np.testing.assert_array_equal(pd.DatetimeIndex(dataset["time"]).tz_localize("UTC"), placed.index)
    for name in placed.columns:
        title = {"lat_deg": "lat", "lon_deg": "lon"}.get(name, name)
        np.testing.assert_array_equal(dataset[title], placed[name])


def test_it_is_one_trajectory_of_discrete_samples(dataset: xarray.Dataset) -> None:
    """CF 1.11: sections 2.6.1, 9.4, 9.5, 9.6 and appendix H.4.2."""
    assert dataset.attrs["Conventions"] == "CF-1.11"
    assert dataset.attrs["featureType"] == "trajectory"
    roles = [name for name, one in dataset.variables.items() if one.attrs.get("cf_role") == "trajectory_id"]
    assert roles == ["trajectory"]
    assert set(dataset.dims) == {"time"}
    assert set(dataset.coords) == {"time", "lat", "lon", "trajectory"}
    for name, axis in (("time", "T"), ("lat", "Y"), ("lon", "X")):
        assert dataset[name].attrs["axis"] == axis
        assert np.isfinite(dataset[name].to_numpy().astype(float)).all()
        assert "_FillValue" not in dataset[name].encoding
    assert (np.diff(dataset["time"].to_numpy()) > np.timedelta64(0)).all()
    assert dataset.attrs["source"] == "NMEA 0183 sentences of matin d’été.log"


def test_every_variable_says_what_it_is_and_a_standard_name_fits_its_unit(dataset: xarray.Dataset) -> None:
    for name, variable in dataset.data_vars.items():
        assert variable.attrs["long_name"], name
        assert variable.attrs["units"] in MEASURES, name
        standard_name, _, modifier = variable.attrs.get("standard_name", "").partition(" ")
        assert modifier in ("", "standard_error")  # CF appendix C
        if standard_name:
            assert MEASURES[variable.attrs["units"]] == MEASURES[CANONICAL[standard_name]]
    assert dataset["stw_kn_shown"].attrs["long_name"] == "STW, as shown before correction"


def test_a_quantity_names_its_uncertainty(dataset: xarray.Dataset) -> None:
    """CF section 3.4: ancillary data."""
    assert dataset["twd_ground_deg"].attrs["ancillary_variables"] == "twd_ground_deg_sd"
    assert dataset["twd_ground_deg_sd"].attrs["standard_name"] == "wind_from_direction standard_error"
    assert "ancillary_variables" not in dataset["sog_kn"].attrs


def test_the_names_are_those_of_the_table_and_of_channels() -> None:
    assert set(STANDARD_NAMES.values()) == set(CANONICAL)
    assert set(STANDARD_NAMES) <= set(CHANNELS)


def test_every_channel_s_unit_is_one_of_udunits(small_passage: Passage, tmp_path: Path) -> None:
    frame = small_passage.frame.copy()
    for name in CHANNELS:
        frame[name] = frame.get(name, 1.0)
    write_frame(frame, small_passage, tmp_path / "all.nc")
    with xarray.open_dataset(tmp_path / "all.nc", decode_timedelta=False) as opened:
        assert {one.attrs["units"] for one in opened.data_vars.values()} <= set(MEASURES)


def test_without_a_position_nothing_is_written(small_passage: Passage, tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="no position"):
        write_frame(small_passage.frame[["stw_kn"]], small_passage, tmp_path / "out.nc")
    assert list(tmp_path.iterdir()) == []
