"""Alerts about a block: bloom against its forecast, and weather that harms it."""

from datetime import date, timedelta
from typing import Any

import pytest

from planning.compute.alerts import (
    AlertError,
    AlertKind,
    AlertState,
    Bloom,
    BloomAgainstForecast,
    Fact,
    Handling,
    Limits,
    Weather,
    alert_of,
    bloom_facts,
    weather_facts,
)
from tests.compute.blocks import day

EXPECTED, LOW, HIGH = day(5, 12), day(5, 5), day(5, 19)
# Paull & Duarte 2011, ch. 6: sugar apple sets poorly above 30 C and below 60 % humidity.
LIMITS = Limits(
    frost_c=0, frost_source="From memory", heat_c=30, dry_percent=60, heat_source="Paull & Duarte"
)


def bloom_seen(seen_on: date | None, **changes: Any) -> BloomAgainstForecast:
    values: dict[str, Any] = {
        "subject": "N1:2026:main:bloom",
        "block": "N1",
        "place": "block N1",
        "season_year": 2026,
        "expected_on": EXPECTED,
        "low": LOW,
        "high": HIGH,
        "seen_on": seen_on,
    }
    return BloomAgainstForecast(**(values | changes))


@pytest.mark.parametrize(
    ("seen_on", "today", "expected"),
    [
        # the edges of the interval are within it
        (LOW, LOW, []),
        (HIGH, HIGH, []),
        # a day outside it
        (day(5, 4), day(5, 4), [(AlertKind.BLOOM_EARLY, day(5, 4))]),
        (day(5, 20), day(5, 20), [(AlertKind.BLOOM_LATE, HIGH)]),
        # not seen, and not late yet
        (None, HIGH, []),
        # not seen after the interval: the same fact as when it is seen at last
        (None, day(5, 20), [(AlertKind.BLOOM_LATE, HIGH)]),
        # a month after it was seen it is told no longer
        (day(5, 4), day(6, 3), [(AlertKind.BLOOM_EARLY, day(5, 4))]),
        (day(5, 4), day(6, 4), []),
    ],
)
def test_bloom_is_told_when_it_came_outside_its_interval(
    seen_on: date | None, today: date, expected: list[tuple[AlertKind, date]]
) -> None:
    found = list(bloom_facts(bloom_seen(seen_on), today=today))
    assert [(fact.kind, fact.about) for fact in found] == expected


def test_bloom_says_how_far_off_it_was() -> None:
    (fact,) = bloom_facts(bloom_seen(day(5, 2), reason="By degree days."), today=day(5, 2))
    assert fact.message == (
        "First bloom in block N1 was seen on 2 May, 10 days sooner than forecast: what follows"
        " from it has moved."
    )
    assert fact.reason == (
        "The forecast was 12 May (80 % interval: 5 May to 19 May). By degree days."
    )


def weather(on: date, tmin_c: float | None = 15, tmax_c: float | None = 25, **more: Any) -> Weather:
    values: dict[str, Any] = {"humidity_percent": 70, "is_forecast": False}
    return Weather(on=on, tmin_c=tmin_c, tmax_c=tmax_c, **(values | more))


TODAY = day(5, 20)


def told(*days: Weather, today: date = TODAY, limits: Limits = LIMITS) -> list[Fact]:
    bloom = Bloom(
        subject="N1:2026:main:bloom",
        block="N1",
        place="block N1",
        season_year=2026,
        starts_on=day(5, 12),
        ends_on=day(6, 10),
    )
    return list(weather_facts(bloom, days, limits, today=today))


@pytest.mark.parametrize(
    ("found", "kinds"),
    [
        # frost at nought, and not just above it
        (weather(day(5, 19), tmin_c=0.0), [AlertKind.FROST]),
        (weather(day(5, 19), tmin_c=0.1), []),
        # above 30 C and dry
        (weather(day(5, 19), tmax_c=30.1, humidity_percent=59), [AlertKind.DRY_HEAT]),
        # at 30 C; damp; humidity not known
        (weather(day(5, 19), tmax_c=30.0, humidity_percent=40), []),
        (weather(day(5, 19), tmax_c=36, humidity_percent=61), []),
        (weather(day(5, 19), tmax_c=36, humidity_percent=None), []),
        # missing temperatures say nothing
        (weather(day(5, 19), tmin_c=None, tmax_c=None), []),
        # before bloom, after it, and long ago
        (weather(day(5, 11), tmin_c=-2), []),
        (weather(day(6, 11), tmin_c=-2), []),
    ],
)
def test_weather_is_told_within_the_bloom_and_the_limits(
    found: Weather, kinds: list[AlertKind]
) -> None:
    assert [fact.kind for fact in told(found)] == kinds


def test_weather_that_is_past_is_told_for_a_fortnight() -> None:
    frost = weather(day(5, 13), tmin_c=-1)
    assert told(frost, today=day(5, 27))
    assert not told(frost, today=day(5, 28))


def test_a_species_without_published_limits_is_told_nothing() -> None:
    assert (
        told(weather(day(5, 19), tmin_c=-5, tmax_c=40, humidity_percent=10), limits=Limits()) == []
    )


def test_days_that_follow_each_other_are_one_fact() -> None:
    hot = {"tmax_c": 33, "humidity_percent": 35}
    days = [weather(day(5, 18) + timedelta(days=n), **hot) for n in range(3)]
    ahead = weather(day(5, 21), tmax_c=35, humidity_percent=30, is_forecast=True)
    later = weather(day(5, 24), **hot, is_forecast=True)
    run, alone = told(*days, ahead, later)
    assert (run.about, alone.about) == (day(5, 18), day(5, 24))
    assert run.message == (
        "Observed, and forecast to go on, for block N1 in bloom: heat up to 35.0 C with air as dry"
        " as 30 %, 18 May to 21 May."
    )
    assert alone.message.startswith("Forecast for block N1 in bloom: heat up to 33.0 C")
    assert "Heat hurts people first" in run.reason


def test_a_fact_is_handled_by_its_key_and_its_subject() -> None:
    (fact,) = told(weather(day(5, 19), tmin_c=-1))
    plain = alert_of(fact, Handling(), today=day(5, 20))
    assert (plain.state, plain.task, plain.block) == (AlertState.ACTIVE, None, "N1")
    snoozed = alert_of(fact, Handling(snoozed_until={fact.subject: day(5, 22)}), today=day(5, 21))
    assert snoozed.state is AlertState.SNOOZED
    noted = alert_of(fact, Handling(acknowledged=frozenset({plain.key})), today=day(5, 20))
    assert noted.state is AlertState.ACKNOWLEDGED


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: weather(day(5, 1), tmin_c=20, tmax_c=10), "above its highest"),
        (lambda: bloom_seen(None, expected_on=day(6, 1)), "outside its interval"),
    ],
)
def test_what_contradicts_itself_is_refused(make: Any, message: str) -> None:
    with pytest.raises(AlertError, match=message):
        make()
