"""Everything a farm's schedule is computed from, as plain values, in a fixed number of queries."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.alerts import Handling
from planning.compute.next_tasks import BlockYear, Choice, CropFacts, SeasonDays, cycles_of
from planning.models import AlertAcknowledgement, TaskChoice
from planning.models import TaskRule as TaskRuleRow
from planning.queries.plantings import Planted
from planning.queries.recorded_work import Recorded, recorded_work
from planning.queries.task_rules import as_rule, rules_on
from records.calendars import Calendar, calendar
from records.models import Block, Crop, Farm
from records.seasons import Season

# Seasons before this one, and after it, that are computed. The first is computed for what it
# leaves to the next, and not kept.
BEFORE, AFTER = 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockPlan:
    """A block with its rules by code, its seasons by year, and what its tasks follow from."""

    block: Block
    rules: Mapping[str, TaskRuleRow]
    seasons: Mapping[int, Season]
    season_year: int
    block_year: BlockYear

    @property
    def first_year(self) -> int:
        """The first season whose tasks are kept."""
        return self.season_year - BEFORE + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmPlan:
    """A farm's blocks; what people decided, by the key of a task or an alert."""

    blocks: Mapping[UUID, BlockPlan]
    choices: Mapping[str, TaskChoice]
    acknowledged: Mapping[str, AlertAcknowledgement]

    @property
    def handling(self) -> Handling:
        return Handling(
            snoozed_until={
                key: choice.snoozed_until
                for key, choice in self.choices.items()
                if choice.snoozed_until is not None
            },
            acknowledged=frozenset(self.acknowledged),
        )


def blocks_in_use(farm: Farm, today: dt.date, block_id: UUID | None = None) -> list[Block]:
    """Blocks that are not retired, of a farm that is not; or the one of them that is named."""
    if farm.retired_on is not None and farm.retired_on <= today:
        return []
    rows = Block.objects.filter(farm=farm).order_by("code")
    if block_id is not None:
        rows = rows.filter(pk=block_id)
    return [block for block in rows if block.retired_on is None or block.retired_on > today]


def farm_plan(
    farm: Farm, blocks: Sequence[Block], planted: Mapping[UUID, Planted], today: dt.date
) -> FarmPlan:
    """What the tasks of some blocks are computed from, in ten queries."""
    seasons_of, ids = calendar([farm]), [block.pk for block in blocks]
    where: dict[str, Any] = {"farm_id": farm.pk, "block_id__in": ids}
    rules = list(TaskRuleRow.objects.filter(farm=farm))
    crops = list(Crop.objects.filter(**where))
    spans = {block.pk: _seasons(seasons_of, block, today) for block in blocks}
    since = min((span.starts_on for found in spans.values() for span in found), default=today)
    recorded = recorded_work(where, since, crops)
    choices = {choice.task_key: choice for choice in TaskChoice.objects.filter(**where)}
    rows = AlertAcknowledgement.objects.filter(**where)
    by_block, chosen = _by_block(crops), _by_block(choices.values())
    plans = {}
    for block in blocks:
        species = planted[block.pk].main.pk if block.pk in planted else None
        plans[block.pk] = _block_plan(
            block,
            {row.code: row for row in rules_on(rules, block.pk, species) if row.is_active},
            spans[block.pk],
            _crop_facts(seasons_of, by_block[block.pk]),
            recorded,
            {choice.task_key: choice for choice in chosen[block.pk]},
            _kept_from(farm, block, recorded, today),
        )
    return FarmPlan(
        blocks=plans, choices=choices, acknowledged={row.alert_key: row for row in rows}
    )


def _seasons(seasons_of: Calendar, block: Block, today: dt.date) -> list[Season]:
    """From two seasons ago to the next, the current one third."""
    year = seasons_of.season_of(block.farm_id, block.pk, today).year
    return [
        seasons_of.season_span(block.farm_id, block.pk, each)
        for each in range(year - BEFORE, year + AFTER + 1)
    ]


def _by_block(rows: Iterable[Any]) -> dict[UUID, list[Any]]:
    by_block: dict[UUID, list[Any]] = defaultdict(list)
    for row in rows:
        by_block[row.block_id].append(row)
    return by_block


def _crop_facts(seasons_of: Calendar, crops: Sequence[Crop]) -> list[CropFacts]:
    return [
        CropFacts(
            crop=str(crop.pk),
            name=crop.name,
            season_year=seasons_of.season_of(
                crop.farm_id, crop.block_id, crop.bloom_began_on or crop.opened_on
            ).year,
            opened_on=crop.opened_on,
            picking_ends_on=crop.picking_ends_on,
        )
        for crop in crops
    ]


def _kept_from(farm: Farm, block: Block, recorded: Recorded, today: dt.date) -> dt.date:
    """Nothing is missed before a block was put into the service, or its first record."""
    created_on = block.created_at.astimezone(ZoneInfo(farm.time_zone)).date()
    return min(created_on, recorded.first_on(block.pk) or today, today)


def _block_plan(
    block: Block,
    rules: Mapping[str, TaskRuleRow],
    seasons: Sequence[Season],
    crops: Sequence[CropFacts],
    recorded: Recorded,
    choices: Mapping[str, TaskChoice],
    kept_from: dt.date,
) -> BlockPlan:
    days = [
        SeasonDays(year=season.year, starts_on=season.starts_on, ends_on=season.ends_on)
        for season in seasons
    ]
    return BlockPlan(
        block=block,
        rules=rules,
        seasons={season.year: season for season in seasons},
        season_year=seasons[BEFORE].year,
        block_year=BlockYear(
            block=str(block.pk),
            rules=[as_rule(row) for row in rules.values()],
            cycles=cycles_of(days, crops),
            work=recorded.work[block.pk],
            stages=recorded.stages[block.pk],
            choices={
                key: Choice(skipped_because=choice.skipped_because or None)
                for key, choice in choices.items()
            },
            kept_from=kept_from,
            retired_on=block.retired_on,
        ),
    )
