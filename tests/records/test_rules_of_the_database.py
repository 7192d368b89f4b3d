"""What no way of writing gets past: the database itself refuses these rows."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from tests.api.resources import RESOURCES, make
from tests.cast import Cast

REFUSED = [
    # a kind of record, the values that one of them is given, the rule that is named
    ("task-logs", {"kind": "humming"}, "task_log_kind_is_known"),
    ("growth-stages", {"bbch": "1"}, "growth_stage_is_two_digits"),
    ("growth-stages", {"trees_seen": None}, "growth_stage_of_a_tree_or_of_so_many"),
    ("growth-stages", {"trees_seen": 9, "trees_looked_at": 8}, "seen_on_trees_looked_at"),
    ("trunk-girths", {"girth_mm": 0}, "trunk_girth_in_range"),
    ("trunk-girths", {"trunk": 0}, "trunk_girth_of_a_trunk"),
    ("pollen-batches", {"storage_c": 61}, "pollen_batch_storage_in_range"),
    ("pollination-rounds", {"pollen_batch": None}, "round_has_the_pollen_of_its_method"),
    ("pollination-rounds", {"method": "natural"}, "round_has_the_pollen_of_its_method"),
    (
        "pollination-rounds",
        {"method": "bagged", "pollen_batch": None},
        "round_has_the_bagging_of_its_method",
    ),
    ("pollination-rounds", {"flowers": 0}, "round_has_flowers"),
    ("fruit-counts", {"fruit": 21}, "fruit_count_within_flowers_looked_at"),
    ("fruit-counts", {"flowers_looked_at": None}, "fruit_count_has_its_denominator"),
    ("fruit-counts", {"kind": "thinned"}, "fruit_count_thinned_for_a_reason"),
    ("fruit-samples", {"weight_g": None}, "fruit_sample_measures_something"),
    ("fruit-samples", {"shape_score": 2}, "fruit_sample_shape_has_its_scale"),
    (
        "fruit-samples",
        {"shape_score": 6, "shape_best": 1, "shape_worst": 5},
        "fruit_sample_shape_on_its_scale",
    ),
    ("intakes", {"net_g": 5_000_001}, "intake_net_in_range"),
    ("lots", {"shipped_on": dt.date(2026, 9, 11)}, "lot_shipped_after_packing"),
    ("lots", {"farm": None}, "lot_of_one_farm_or_one_co_op"),
    ("lots", {"code": ""}, "lot_has_a_code"),
    ("weather-stations", {"latitude": 32}, "station_coordinates_in_range"),
    ("weather-stations", {"farm": None}, "station_of_one_farm_or_one_co_op"),
    ("weather-days", {"tmin_c": 25}, "weather_tmin_not_above_tmax"),
    ("weather-days", {"kind": "forecast"}, "weather_forecast_has_its_day"),
    ("weather-days", {"tmin_c": None, "tmax_c": None}, "weather_day_reads_something"),
    ("weather-days", {"hourly_temperature_c": [20] * 22}, "weather_temperature_of_every_hour"),
]


@pytest.mark.parametrize(("name", "values", "rule"), REFUSED)
def test_the_database_refuses(name: str, values: dict[str, Any], rule: str, cast: Cast) -> None:
    record, model = make(name, cast.ours), RESOURCES[name].model
    assert model is not None
    row = model._base_manager.filter(pk=record.pk)
    before = row.values().get()
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        row.update(**values)
    assert row.values().get() == before
