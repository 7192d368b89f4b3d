"""What lies ahead in a farm's schedule: forecasts, heat, hours, effort, and alerts of blocks."""

import datetime as dt
from typing import Any

import pytest

from planning.models import Alert, NextTask, ScheduleSetting, StageForecast, TaskRule, UndatedTask
from planning.services.task_choices import handle
from records.models import Block, Farm, WeatherDay
from tests.planning.ground import make_tree
from tests.planning.schedules import (
    day,
    plant_block,
    plant_farm,
    pollinate,
    prune,
    rebuild,
    see,
    task,
    tasks,
)
from tests.planning.weather import make_station

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _late_in_the_year(settings: Any) -> None:
    settings.AS_OF = day(12, 31)


@pytest.fixture
def farm(db: None) -> Farm:
    return plant_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    return plant_block(farm)


def forecast(block: Block, stage: str, bbch: int, on: dt.date, **extra: Any) -> StageForecast:
    values: dict[str, Any] = {
        "on_date": on,
        "low_on": on - dt.timedelta(days=6),
        "high_on": on + dt.timedelta(days=6),
        "method": "days",
        "reason": "70 days after the pruning.",
    }
    return StageForecast.objects.create(
        farm=block.farm,
        block=block,
        season_year=2026,
        season_label="2026",
        crop_name="main",
        stage=stage,
        bbch=bbch,
        **(values | extra),
    )


def weather(farm: Farm, on: dt.date, **readings: Any) -> None:
    station = farm.station_uses.first().station if farm.station_uses.exists() else None
    station = station or make_station(farm)
    WeatherDay.objects.create(station=station, farm=farm, day=on, **readings)


def standing(farm: Farm) -> list[str]:
    rows = Alert.objects.filter(farm=farm, task=None).exclude(state="closed")
    return [f"{row.kind} {row.about_on:%d.%m} {row.state}" for row in rows.order_by("about_on")]


def test_a_stored_forecast_dates_the_visit_that_moves_when_bloom_is_seen(
    farm: Farm, block: Block
) -> None:
    row = forecast(block, "first-bloom", 60, day(5, 14))
    assert "pollination 1 coming, best 15.05" in tasks(farm, day(4, 1))
    before = task(farm, "pollination")
    assert before.reason.startswith(
        "First bloom is forecast for 14 May (80 % interval: 8 May to 20 May). 70 days after"
    )
    see(block, "60", day(5, 12))
    StageForecast.objects.filter(pk=row.pk).update(observed_on=day(5, 12), on_date=day(5, 12))
    rebuild(farm, day(5, 12))
    after = task(farm, "pollination")
    assert (after.pk, after.best_on, after.state) == (before.pk, day(5, 13), "open")


def test_pruning_goes_by_the_leaf_out_that_is_forecast(farm: Farm, block: Block) -> None:
    forecast(block, "leaf-out", 10, day(3, 20))
    assert tasks(farm, day(2, 20)) == ["pruning 1 coming, best 17.03"]


def test_a_visit_that_is_due_soon_has_its_hours_in_local_time(farm: Farm, block: Block) -> None:
    see(block, "60", day(5, 12))
    rebuild(farm, day(5, 12))
    row = task(farm, "pollination")
    brushing = [each for each in row.hours if each["work"] == "brushing"]
    # On Madeira in May the clock is an hour ahead of UTC, and the sun rises about seven.
    assert brushing[0]["starts_at"].startswith("2026-05-13T07:")
    assert brushing[0]["starts_at"].endswith("+01:00")
    assert "Brush from sunrise" in row.reason


def test_far_visits_and_other_work_have_no_hours(farm: Farm, block: Block) -> None:
    forecast(block, "first-bloom", 60, day(5, 14))
    rebuild(farm, day(4, 1))
    assert set(map(str, NextTask.objects.values_list("hours", flat=True))) == {"[]"}


def test_a_visit_says_what_it_takes(farm: Farm, block: Block) -> None:
    for position in range(2, 7):
        make_tree(block, position, cultivar=block.trees.first().cultivar)
    forecast(block, "first-bloom", 60, day(5, 12), observed_on=day(5, 12))
    forecast(block, "end-of-bloom", 69, day(6, 20))
    see(block, "60", day(5, 12))
    rebuild(farm, day(5, 12))
    row = task(farm, "pollination")
    # common practice: ten minutes a tree and visit
    assert row.expected_minutes == 60
    assert row.expected_people == 1
    assert "It is expected to take 1.0 hours of work" in row.reason


def test_a_crew_that_does_not_fit_is_told_once_a_season(farm: Farm, block: Block) -> None:
    cultivar = block.trees.get().cultivar
    for position in range(2, 400):
        make_tree(block, position, cultivar=cultivar)
    forecast(block, "first-bloom", 60, day(5, 12), observed_on=day(5, 12))
    forecast(block, "end-of-bloom", 69, day(5, 30))
    see(block, "60", day(5, 12))
    setting = ScheduleSetting.objects.create(farm=farm, crew_size=1)
    rebuild(farm, day(5, 12))
    alert = Alert.objects.get(kind="short-crew")
    assert (alert.block, alert.task, alert.about_on) == (None, None, day(1, 1))
    assert alert.message.startswith("The crew does not fit the pollination of 2026: one person can")
    rebuild(farm, day(5, 13))
    assert Alert.objects.filter(kind="short-crew", state="active").count() == 1
    setting.crew_size = 60
    setting.save()
    rebuild(farm, day(5, 13))
    assert Alert.objects.get(kind="short-crew").state == "closed"


HEAT_RULE: dict[str, Any] = {
    "code": "watch",
    "kind": "other",
    "title": "Watch for skin change",
    "noun": "watch",
    "trigger": "after-heat",
    "after_bbch_from": "60",
    "after_bbch_to": "67",
    "after_stage": "first bloom",
    "after_degree_days": 50,
    "base_c": 10,
    "opens_days": 0,
    "best_days": 2,
    "closes_days": 9,
}


def test_heat_of_the_farms_station_dates_a_task(farm: Farm, block: Block) -> None:
    TaskRule.objects.create(farm=farm, **HEAT_RULE)
    see(block, "60", day(5, 1))
    rebuild(farm, day(5, 12))
    assert UndatedTask.objects.get(about="watch").reason.startswith(
        "Watch for skin change has no date without weather"
    )
    # ten degree days a day from 2 May on make fifty on the 6th
    for number in range(1, 12):
        weather(farm, day(5, number), tmin_c=20, tmax_c=20)
    rebuild(farm, day(5, 12))
    assert task(farm, "watch").opens_on == day(5, 6)
    WeatherDay.objects.get(day=day(5, 4)).delete()
    rebuild(farm, day(5, 12))
    assert "the temperatures of 4 May are missing" in UndatedTask.objects.get(about="watch").reason


def test_a_round_that_is_not_counted_asks_for_its_count(farm: Farm, block: Block) -> None:
    pollinate(block, day(5, 13))
    rebuild(farm, day(5, 30))
    assert task(farm, "initial-count").reason.endswith("The round of 13 May has no count yet.")


def test_bloom_outside_its_interval_is_told_and_closes(farm: Farm, block: Block) -> None:
    forecast(
        block,
        "first-bloom",
        60,
        day(5, 2),
        observed_on=day(5, 2),
        expected_on=day(5, 14),
        expected_low_on=day(5, 8),
        expected_high_on=day(5, 20),
    )
    rebuild(farm, day(5, 3))
    assert standing(farm) == ["bloom-early 02.05 active"]
    rebuild(farm, day(6, 10))
    assert standing(farm) == []
    assert Alert.objects.get(kind="bloom-early").closed_on == day(6, 10)


def test_weather_of_a_bloom_is_told_from_forecast_and_observed_days(
    farm: Farm, block: Block
) -> None:
    forecast(block, "first-bloom", 60, day(5, 12), observed_on=day(5, 12))
    forecast(block, "end-of-bloom", 69, day(6, 20))
    weather(farm, day(5, 14), tmin_c=-1, tmax_c=14)
    weather(
        farm,
        day(5, 18),
        tmin_c=20,
        tmax_c=36,
        humidity_percent=30,
        kind="forecast",
        forecast_on=day(5, 15),
    )
    rebuild(farm, day(5, 15))
    assert standing(farm) == ["frost 14.05 active", "dry-heat 18.05 active"]
    hot = Alert.objects.get(kind="dry-heat")
    assert hot.block == block
    assert hot.message.startswith("Forecast for block N1 in bloom: heat up to 36.0 C")
    # acknowledged and snoozed like others, by what they are about
    handle(Alert.objects.get(kind="frost"), today=day(5, 15), by="Owner", is_acknowledged=True)
    assert standing(farm) == ["frost 14.05 acknowledged", "dry-heat 18.05 active"]
    handle(hot, today=day(5, 15), by="Owner", snoozed_until=day(5, 17))
    assert "dry-heat 18.05 snoozed" in standing(farm)
    rebuild(farm, day(5, 17))
    assert "dry-heat 18.05 active" in standing(farm)
    # the forecast was wrong: its alert closes
    WeatherDay.objects.filter(kind="forecast").delete()
    rebuild(farm, day(5, 18))
    assert standing(farm) == ["frost 14.05 acknowledged"]


def test_an_option_that_is_off_hides_no_rule_of_the_farms_own(farm: Farm, block: Block) -> None:
    TaskRule.objects.create(
        farm=farm,
        code="thinning",
        kind="thinning",
        title="Thinning",
        noun="thinning",
        trigger="dates",
        opens_on_day="06-01",
        best_on_day="06-10",
        closes_on_day="06-20",
        because="Before the fruit touch.",
    )
    prune(block, day(3, 3))
    assert "thinning 1 coming, best 10.06" in tasks(farm, day(4, 1))
    # switched on by the farm, the nearer rule takes its place
    own = TaskRule.objects.get(farm=farm, code="thinning", species__isnull=False)
    assert not own.is_active
    own.is_active = True
    own.save()
    assert "thinning 1 coming, best 10.06" not in tasks(farm, day(4, 1))
