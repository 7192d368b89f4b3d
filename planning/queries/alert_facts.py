"""What is to be told of blocks beside their tasks: how bloom came, and weather that harms it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from planning.choices import StageAhead
from planning.compute.alerts import (
    Bloom,
    BloomAgainstForecast,
    Fact,
    Limits,
    Weather,
    bloom_facts,
    weather_facts,
)
from planning.models import StageForecast
from planning.queries.figures import FarmFigures, figures_of_farms
from planning.queries.plantings import Planted
from planning.queries.schedules import BlockPlan, Plan
from planning.queries.weather import DayKind, farm_days

# Weather is told for so long after it, and before it as far as forecasts go.
AROUND = dt.timedelta(days=14)

Crop = tuple[UUID, int, str]  # a block, a season and a crop's name


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """A stage of a crop as it was seen or is forecast, and as it had been forecast."""

    on_date: dt.date
    low_on: dt.date | None
    high_on: dt.date | None
    observed_on: dt.date | None
    expected_on: dt.date | None
    expected_low_on: dt.date | None
    expected_high_on: dt.date | None
    reason: str


def facts_of(
    plan: Plan, planted: Mapping[UUID, Planted], where: Mapping[str, Any], today: dt.date
) -> Iterator[tuple[UUID, Fact]]:
    """Facts that hold, each with its farm; weather is read only of farms with bloom about now."""
    stages = _stages(plan, where)
    blooming: dict[UUID, list[tuple[BlockPlan, Bloom, Planted]]] = defaultdict(list)
    figures = figures_of_farms(list({block.block.farm_id for block in plan.blocks.values()}))
    for crop, found in stages.items():
        block = plan.blocks[str(crop[0])]
        farm_id = block.block.farm_id
        for against in _against_forecast(block, crop, found):
            yield from ((farm_id, fact) for fact in bloom_facts(against, today=today))
        kind = planted.get(crop[0])
        bloom = _bloom(block, crop, found, kind, figures[farm_id]) if kind else None
        if bloom and kind and bloom.starts_on - AROUND <= today <= bloom.ends_on + AROUND:
            blooming[farm_id].append((block, bloom, kind))
    for farm_id, blooms in blooming.items():
        yield from _weather_facts(farm_id, blooms, figures[farm_id], today)


def _stages(plan: Plan, where: Mapping[str, Any]) -> dict[Crop, dict[str, _Stage]]:
    """First and last bloom of crops of the current season and later ones, by block and crop."""
    rows = StageForecast.objects.filter(
        cultivar=None,
        stage__in=(StageAhead.FIRST_BLOOM, StageAhead.END_OF_BLOOM),
        on_date__isnull=False,
        **where,
    )
    found: dict[Crop, dict[str, _Stage]] = defaultdict(dict)
    names = tuple(_Stage.__dataclass_fields__)
    for block_id, year, crop, stage, *values in rows.values_list(
        "block_id", "season_year", "crop_name", "stage", *names
    ):
        block = plan.blocks.get(str(block_id))
        if block is not None and year >= block.seasons.current:
            found[block_id, year, crop][stage] = _Stage(**dict(zip(names, values, strict=True)))
    return found


def _subject(crop: Crop) -> str:
    block_id, year, name = crop
    return f"{block_id}:{year}:{name}:bloom"


def _against_forecast(
    block: BlockPlan, crop: Crop, stages: Mapping[str, _Stage]
) -> Iterator[BloomAgainstForecast]:
    """First bloom, where it was forecast before it was seen, or is not seen yet."""
    first = stages.get(StageAhead.FIRST_BLOOM)
    if first is None:
        return
    expected = (first.expected_on, first.expected_low_on, first.expected_high_on)
    if first.observed_on is None:
        expected = (first.on_date, first.low_on, first.high_on)
    on, low, high = expected
    if on is not None and low is not None and high is not None:
        yield BloomAgainstForecast(
            subject=_subject(crop),
            block=str(crop[0]),
            place=f"block {block.block.code}",
            season_year=crop[1],
            expected_on=on,
            low=low,
            high=high,
            seen_on=first.observed_on,
            reason="" if first.observed_on else first.reason,
        )


def _bloom(
    block: BlockPlan,
    crop: Crop,
    stages: Mapping[str, _Stage],
    planted: Planted,
    figures: FarmFigures,
) -> Bloom | None:
    """To its last day as seen or forecast, else as long as the species blooms."""
    first, last = stages.get(StageAhead.FIRST_BLOOM), stages.get(StageAhead.END_OF_BLOOM)
    if first is None:
        return None
    days = figures.value(planted.main.code, "bloom-days")
    ends_on = last.on_date if last else None
    if ends_on is None and days is not None:
        ends_on = first.on_date + dt.timedelta(days=round(days))
    if ends_on is None or ends_on < first.on_date:
        return None
    return Bloom(
        subject=_subject(crop),
        block=str(crop[0]),
        place=f"block {block.block.code}",
        season_year=crop[1],
        starts_on=first.on_date,
        ends_on=ends_on,
    )


def _weather_facts(
    farm_id: UUID,
    blooms: Sequence[tuple[BlockPlan, Bloom, Planted]],
    figures: FarmFigures,
    today: dt.date,
) -> Iterator[tuple[UUID, Fact]]:
    days = _weather(farm_id, today)
    for _, bloom, planted in blooms:
        limits = _limits(planted.main.code, figures)
        yield from ((farm_id, fact) for fact in weather_facts(bloom, days, limits, today=today))


def _weather(farm_id: UUID, today: dt.date) -> list[Weather]:
    """Recorded and forecast days; normals say nothing of a single day."""
    return [
        Weather(
            on=day.day,
            tmin_c=day.tmin_c,
            tmax_c=day.tmax_c,
            humidity_percent=day.humidity_percent,
            is_forecast=day.kind is DayKind.FORECAST,
        )
        for day in farm_days(farm_id, today - AROUND, today + AROUND, today)
        if day.kind in (DayKind.OBSERVED, DayKind.FORECAST)
    ]


def _limits(species: str, figures: FarmFigures) -> Limits:
    frost, heat, dry = (
        figures.figure(species, name)
        for name in ("frost-in-bloom", "heat-in-bloom", "dry-air-in-bloom")
    )
    return Limits(
        frost_c=frost.value,
        frost_source=_sentence(frost.source),
        heat_c=heat.value,
        dry_percent=dry.value,
        heat_source=_sentence(dry.source),
    )


def _sentence(source: str) -> str:
    return source[:1].upper() + source[1:]
