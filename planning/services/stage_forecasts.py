"""A farm's stage forecasts, brought up to date with its records, its weather and its calendar."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from planning.compute.stage_forecasts import (
    BBCH,
    Crop,
    Cycle,
    Forecast,
    SpeciesFacts,
    Stage,
    forecast_from_plan,
    forecast_of,
    forecasts,
)
from planning.models import ScheduleSetting, StageForecast
from planning.models.stage_forecasts import FORECAST_KEY
from planning.queries.crop_stages import BlockCrop, Subject, is_picked_out, last_seen, subjects
from planning.queries.figures import figures_of
from planning.queries.plantings import planted_blocks
from planning.queries.schedules import blocks_in_use
from planning.queries.stage_figures import MAIN, StageFigures
from planning.services.default_rules import climate_of
from planning.services.derived import Written, lock, store
from planning.services.farm_heat import FarmHeat
from records.models import Block, Farm

NOTHING = Written(added=0, changed=0, deleted=0)
STILL_PICKED = dt.timedelta(days=180)
FORECASTS_KEPT = dt.timedelta(days=800)  # those that this season and the last went by
ONE_DAY = dt.timedelta(days=1)
NO_SPECIES = SpeciesFacts(name="a species that is not known")
Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What the forecasts of a farm, or of one block of it, are made from."""

    farm: Farm
    subjects: Sequence[Subject]
    figures: StageFigures
    heat: FarmHeat

    def crop(self, subject: Subject, of: BlockCrop, as_of: dt.date) -> Crop:
        """A crop with the weather as it was known on a day."""
        facts = self.facts(subject, of.cycle.crop)
        heat = None
        if subject.species is not None and self.heat.helps(of.past):
            upper_c = self.figures.upper_c(subject.species, subject.cultivar_id)
            heat = self.heat.known_on(as_of, upper_c)
        return Crop(
            cycle=of.cycle, past=of.past, facts=facts, heat=heat, comes_yearly=of.comes_yearly
        )

    def facts(self, subject: Subject, crop_name: str) -> SpeciesFacts:
        if subject.species is None:
            return NO_SPECIES
        return self.figures.facts(subject.species, crop_name, subject.cultivar_id)


@transaction.atomic
def rebuild_forecasts(farm_id: UUID, today: dt.date) -> Written:
    """Bring a farm's forecasts up to date; `today` is its local date."""
    lock(f"forecasts of farm {farm_id}")
    farm = Farm.objects.filter(pk=farm_id).first()
    if farm is None:
        return NOTHING
    ground = ground_of(farm, today, forecasts_since=today - FORECASTS_KEPT)
    rows = list(_rows(ground, today))
    return store(StageForecast.objects.filter(farm_id=farm_id), rows, key=FORECAST_KEY)


def ground_of(
    farm: Farm,
    today: dt.date,
    block_id: UUID | None = None,
    forecasts_since: dt.date | None = None,
) -> Ground:
    """`forecasts_since`: the first day of which what was forecast still matters; None, of all."""
    blocks = blocks_in_use(farm, today, block_id)
    planted = planted_blocks(blocks, today)
    setting = ScheduleSetting.objects.filter(farm=farm).first()
    found = subjects(farm, blocks, planted, today)
    figures = StageFigures(figures=figures_of(farm.pk), climate=climate_of(farm, setting))
    heat = FarmHeat(
        farm_id=farm.pk,
        bases_c=_bases(found, figures),
        since=_since(found),
        forecasts_since=forecasts_since,
    )
    return Ground(farm=farm, subjects=found, figures=figures, heat=heat)


def plan_forecast(
    block: Block,
    opened_on: dt.date,
    today: dt.date,
    *,
    kind: str = "pruning",
    crop_name: str = "second",
) -> tuple[Forecast, ...]:
    """The stages of a crop that is to be opened on a day by pruning or leaf stripping.

    `kind` is "pruning" or "leaf stripping". The crop's days and heat are those of the block's
    earlier crops of that name, else of its main crop.
    """
    ground = ground_of(block.farm, today, block.pk, today)
    return plan_forecast_in(ground, block.pk, opened_on, today, kind=kind, crop_name=crop_name)


def plan_forecast_in(
    ground: Ground, block_id: UUID, opened_on: dt.date, today: dt.date, *, kind: str, crop_name: str
) -> tuple[Forecast, ...]:
    """The same on one of the blocks of a ground, which may serve many plans."""
    whole = next((each for each in ground.subjects if _is_whole(each, block_id)), None)
    if whole is None:
        return ()
    planned = _planned(whole, opened_on, crop_name)
    crop = ground.crop(whole, planned, today)
    return forecast_from_plan(crop, opened_on, today, kind=kind)


def _is_whole(subject: Subject, block_id: UUID) -> bool:
    return subject.block.pk == block_id and subject.cultivar_id is None


def _planned(subject: Subject, opened_on: dt.date, crop_name: str) -> BlockCrop:
    """A crop of the season of its opening, after the block's crops of the same name."""
    earlier = [crop.cycle for crop in subject.crops if crop.cycle.starts_on < opened_on]
    season = next(
        (crop.season for crop in subject.crops if crop.season.ends_on >= opened_on),
        subject.crops[-1].season,
    )
    earlier = [each for each in earlier if each.season_year < season.year and each.sights]
    alike = [each for each in earlier if each.crop == crop_name]
    return BlockCrop(
        season=season,
        crop_id=None,
        cycle=Cycle(season_year=season.year, crop=crop_name, starts_on=season.starts_on, sights={}),
        past=alike or [each for each in earlier if each.crop == MAIN],
        comes_yearly=bool(alike) or crop_name == MAIN,
    )


def _bases(found: Iterable[Subject], figures: StageFigures) -> tuple[float, ...]:
    """Every cited base temperature, and half degrees within the bounds of a fit."""
    kinds = {(each.species, each.cultivar_id) for each in found if each.species is not None}
    return FarmHeat.bases_for(
        figures.facts(species, MAIN, cultivar_id) for species, cultivar_id in kinds
    )


def _since(found: Iterable[Subject]) -> dt.date | None:
    """The first day of any crop of which something was seen."""
    return min(
        (
            min(sight.on for sight in crop.cycle.sights.values())
            for each in found
            for crop in each.crops
            if crop.cycle.sights
        ),
        default=None,
    )


# Rows --------------------------------------------------------------------------------------------


def _rows(ground: Ground, today: dt.date) -> Iterator[Row]:
    shown = [
        (subject, crop)
        for subject in ground.subjects
        for crop in subject.crops
        if _is_shown(subject, crop, today)
    ]
    expected = _expected(ground, shown)
    for place, (subject, of) in enumerate(shown):
        for found in forecasts(ground.crop(subject, of, today), today):
            yield _row(subject, of, found, expected.get((place, found.stage)))


def _is_shown(subject: Subject, crop: BlockCrop, today: dt.date) -> bool:
    """Crops of this season and the next, and those of the last that are still to be picked."""
    year = crop.cycle.season_year
    if year >= subject.season_year:
        return True
    last = last_seen(crop.cycle)
    return (
        year == subject.season_year - 1
        and last is not None
        and not is_picked_out(crop.cycle, today)
        and today - last <= STILL_PICKED
    )


def _expected(
    ground: Ground, shown: Sequence[tuple[Subject, BlockCrop]]
) -> dict[tuple[int, Stage], Forecast]:
    """Of stages that were seen, the forecast of the day before; by day, as weather is known.

    Of leaf-out that of the day before pruning, which brings it on: the window to prune in goes by
    leaf-out as it would have come by itself.
    """
    wanted: dict[dt.date, list[tuple[int, Stage]]] = defaultdict(list)
    for place, (_, of) in enumerate(shown):
        sights = of.cycle.sights
        for stage, sight in sights.items():
            if stage not in (Stage.OPENING, Stage.LEAF_OUT):
                wanted[sight.on - ONE_DAY].append((place, stage))
        began = [sights[each].on for each in (Stage.OPENING, Stage.LEAF_OUT) if each in sights]
        if began:
            wanted[min(began) - ONE_DAY].append((place, Stage.LEAF_OUT))
    found = {}
    for as_of in sorted(wanted):
        for place, stage in wanted[as_of]:
            subject, of = shown[place]
            crop = ground.crop(subject, of, as_of)
            found[place, stage] = forecast_of(crop, stage, as_of)
    return found


def _row(subject: Subject, of: BlockCrop, found: Forecast, expected: Forecast | None) -> Row:
    row = {
        "farm_id": subject.block.farm_id,
        "block_id": subject.block.pk,
        "cultivar_id": subject.cultivar_id,
        "season_year": of.season.year,
        "season_label": of.season.label,
        "crop_id": of.crop_id,
        "crop_name": of.cycle.crop,
        "stage": found.stage.value,
        "bbch": BBCH[found.stage],
        "on_date": found.on,
        "low_on": found.low,
        "high_on": found.high,
        "observed_on": found.observed_on,
        "method": found.method.value,
        "anchor": found.anchor.value if found.anchor else "",
        "anchor_on": found.anchor_on,
        "inputs": dict(found.inputs),
        "reason": found.reason,
    }
    if expected is not None and expected.on is not None:
        row |= {
            "expected_on": expected.on,
            "expected_low_on": expected.low,
            "expected_high_on": expected.high,
        }
    return row
