"""Everything the schedules of farms are computed from, as plain values, in a few queries."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from planning.compute.alerts import Handling
from planning.compute.next_tasks import (
    AfterHeat,
    BlockYear,
    Choice,
    CropFacts,
    Cycle,
    Heat,
    SeasonDays,
    StageForecast,
    TaskRule,
    cycles_of,
)
from planning.models import AlertAcknowledgement, TaskChoice
from planning.models import TaskRule as TaskRuleRow
from planning.queries.outlook import forecasts_of, heat_of
from planning.queries.plantings import Planted
from planning.queries.recorded_work import Recorded, recorded_work
from planning.queries.task_rules import as_rule, rule_content, rules_on
from records.calendars import Calendar, calendar
from records.models import Block, Crop, Farm
from records.seasons import Season

# Seasons before this one, and after it, that are computed. The first is computed for what it
# leaves to the next, and not kept.
BEFORE, AFTER = 2, 1
NO_HEAT: Mapping[float, Heat] = {}
NO_CHOICES: Mapping[str, Choice] = {}


class BlockFacts(NamedTuple):
    """What the schedule needs to know of a block in use."""

    pk: UUID
    farm_id: UUID
    code: str
    created_at: dt.datetime
    retired_on: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The rules that hold on some blocks: as they are stored, by code, and as plain values."""

    rows: Mapping[str, TaskRuleRow]
    values: Sequence[TaskRule]
    bases_c: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Seasons:
    """The seasons of some blocks by year, the current one, and their crops if none is on record."""

    by_year: Mapping[int, Season]
    current: int
    cycles: Sequence[Cycle]

    @property
    def first_year(self) -> int:
        """The first season whose tasks are kept."""
        return self.current - BEFORE + 1

    @property
    def days(self) -> list[SeasonDays]:
        return season_days(self.by_year.values())


def season_days(seasons: Iterable[Season]) -> list[SeasonDays]:
    return [
        SeasonDays(year=season.year, starts_on=season.starts_on, ends_on=season.ends_on)
        for season in seasons
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockPlan:
    """A block with its rules and seasons, and what its tasks follow from."""

    block: BlockFacts
    rules: Rules
    seasons: Seasons
    block_year: BlockYear


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Blocks by their id as text; what people decided, by the key of a task or an alert."""

    blocks: Mapping[str, BlockPlan]
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
    rows = _in_use([farm], today, block_id)
    return list(rows.order_by("code"))


def facts_of_blocks(
    farms: Iterable[Farm], today: dt.date, block_id: UUID | None = None
) -> list[BlockFacts]:
    """As `blocks_in_use`, of many farms, and no more than their schedules need."""
    rows = _in_use(farms, today, block_id)
    return [
        BlockFacts(*row)
        for row in rows.order_by("farm_id", "code").values_list(*BlockFacts._fields)
    ]


def _in_use(farms: Iterable[Farm], today: dt.date, block_id: UUID | None) -> QuerySet[Block, Block]:
    in_use = [farm.pk for farm in farms if farm.retired_on is None or farm.retired_on > today]
    rows = Block.objects.filter(Q(retired_on=None) | Q(retired_on__gt=today), farm_id__in=in_use)
    return rows if block_id is None else rows.filter(pk=block_id)


def plan_of(
    farms: Sequence[Farm],
    blocks: Sequence[BlockFacts],
    planted: Mapping[UUID, Planted],
    today: dt.date,
    block_id: UUID | None = None,
) -> Plan:
    """What the schedule of these blocks is computed from, in as many queries for any number."""
    where: dict[str, Any] = {"farm_id__in": [farm.pk for farm in farms]}
    if block_id is not None:
        where["block_id"] = block_id
    sources = _Sources(
        farms={farm.pk: farm for farm in farms},
        calendar=calendar(farms),
        rules=_by(TaskRuleRow.objects.filter(farm_id__in=where["farm_id__in"]), "farm_id"),
        planted=planted,
        crops=_by(Crop.objects.filter(**where), "block_id"),
        choices=_by(TaskChoice.objects.filter(**where), "block_id"),
        forecasts=forecasts_of(where),
        today=today,
    )
    recorded = recorded_work(where, sources.since(blocks), _all(sources.crops))
    plans = {str(block.pk): _block_plan(block, sources, recorded) for block in blocks}
    rows = AlertAcknowledgement.objects.filter(**where)
    return Plan(
        blocks=plans,
        choices={choice.task_key: choice for choice in _all(sources.choices)},
        acknowledged={row.alert_key: row for row in rows},
    )


@dataclass(slots=True, kw_only=True)
class _Sources:
    """What was loaded; what many blocks have in common is made once."""

    farms: Mapping[UUID, Farm]
    calendar: Calendar
    rules: Mapping[UUID, Sequence[TaskRuleRow]]
    planted: Mapping[UUID, Planted]
    crops: Mapping[UUID, Sequence[Crop]]
    choices: Mapping[UUID, Sequence[TaskChoice]]
    forecasts: Mapping[UUID, Sequence[StageForecast]]
    today: dt.date
    _heat: dict[tuple[UUID, tuple[float, ...]], Mapping[float, Heat]] = field(default_factory=dict)
    _with_own_rules: set[UUID] = field(init=False)
    _seasons: dict[tuple[UUID, UUID | None], Seasons] = field(default_factory=dict)
    _rules: dict[tuple[UUID, UUID | None, UUID | None], Rules] = field(default_factory=dict)
    _values: dict[tuple[Any, ...], TaskRule] = field(default_factory=dict)
    _lists: dict[tuple[int, ...], list[TaskRule]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._with_own_rules = {row.block_id for row in _all(self.rules) if row.block_id}

    def since(self, blocks: Iterable[BlockFacts]) -> dt.date:
        """The first day of all seasons that are computed."""
        seasons = {id(each): each for each in map(self.seasons_of, blocks)}.values()
        firsts = [span.starts_on for each in seasons for span in each.by_year.values()]
        return min(firsts, default=self.today)

    def seasons_of(self, block: BlockFacts) -> Seasons:
        """From two seasons ago to the next, the current one third."""
        own = block.pk if block.pk in self.calendar.of_blocks else None
        key = (block.farm_id, own)
        if key not in self._seasons:
            self._seasons[key] = self._make_seasons(*key)
        return self._seasons[key]

    def _make_seasons(self, farm_id: UUID, block_id: UUID | None) -> Seasons:
        year = self.calendar.season_of(farm_id, block_id, self.today).year
        spans = [
            self.calendar.season_span(farm_id, block_id, each)
            for each in range(year - BEFORE, year + AFTER + 1)
        ]
        by_year = {span.year: span for span in spans}
        return Seasons(by_year=by_year, current=year, cycles=cycles_of(season_days(spans), ()))

    def rules_of(self, block: BlockFacts) -> Rules:
        rows = self.rules.get(block.farm_id, ())
        planted = self.planted.get(block.pk)
        species = planted.main.pk if planted else None
        own = block.pk if block.pk in self._with_own_rules else None
        key = (block.farm_id, species, own)
        if key not in self._rules:
            held = {row.code: row for row in rules_on(rows, block.pk, species) if row.is_active}
            values = self._values_of(held.values())
            self._rules[key] = Rules(rows=held, values=values, bases_c=_bases_c(values))
        return self._rules[key]

    def _values_of(self, rows: Iterable[TaskRuleRow]) -> list[TaskRule]:
        """Equal rules of different farms are one value, and equal lists of them one list."""
        values = [self._value_of(row) for row in rows]
        return self._lists.setdefault(tuple(map(id, values)), values)

    def _value_of(self, row: TaskRuleRow) -> TaskRule:
        key = rule_content(row)
        if key not in self._values:
            self._values[key] = as_rule(row)
        return self._values[key]

    def cycles_of(self, block: BlockFacts, seasons: Seasons) -> Sequence[Cycle]:
        crops = self.crops.get(block.pk)
        if not crops:
            return seasons.cycles
        return cycles_of(seasons.days, [self._facts(crop) for crop in crops])

    def _facts(self, crop: Crop) -> CropFacts:
        began_on = crop.bloom_began_on or crop.opened_on
        return CropFacts(
            crop=str(crop.pk),
            name=crop.name,
            season_year=self.calendar.season_of(crop.farm_id, crop.block_id, began_on).year,
            opened_on=crop.opened_on,
            picking_ends_on=crop.picking_ends_on,
        )

    def choices_of(self, block: BlockFacts) -> Mapping[str, Choice]:
        rows = self.choices.get(block.pk)
        if not rows:
            return NO_CHOICES
        return {
            choice.task_key: Choice(skipped_because=choice.skipped_because or None)
            for choice in rows
        }

    def heat_of(self, block: BlockFacts, rules: Rules, seasons: Seasons) -> Mapping[float, Heat]:
        """Read only where a rule counts heat, once a farm."""
        if not rules.bases_c:
            return NO_HEAT
        key = (block.farm_id, rules.bases_c)
        if key not in self._heat:
            since = min(season.starts_on for season in seasons.by_year.values())
            self._heat[key] = heat_of(block.farm_id, rules.bases_c, since, self.today)
        return self._heat[key]

    def kept_from(self, block: BlockFacts, recorded: Recorded) -> dt.date:
        """Nothing is missed before a block was put into the service, or its first record."""
        zone = ZoneInfo(self.farms[block.farm_id].time_zone)
        created_on = block.created_at.astimezone(zone).date()
        return min(created_on, recorded.first_on(block.pk) or self.today, self.today)


def _block_plan(block: BlockFacts, sources: _Sources, recorded: Recorded) -> BlockPlan:
    rules, seasons = sources.rules_of(block), sources.seasons_of(block)
    block_year = BlockYear(
        block=str(block.pk),
        rules=rules.values,
        cycles=sources.cycles_of(block, seasons),
        work=recorded.work.get(block.pk, ()),
        stages=recorded.stages.get(block.pk, ()),
        forecasts=sources.forecasts.get(block.pk, ()),
        heat=sources.heat_of(block, rules, seasons),
        choices=sources.choices_of(block),
        kept_from=sources.kept_from(block, recorded),
        retired_on=block.retired_on,
    )
    return BlockPlan(block=block, rules=rules, seasons=seasons, block_year=block_year)


def _bases_c(rules: Iterable[TaskRule]) -> tuple[float, ...]:
    """The temperatures above which rules count degree days."""
    heat = [rule.trigger for rule in rules if isinstance(rule.trigger, AfterHeat)]
    return tuple(sorted({trigger.base_c for trigger in heat}))


def _by(rows: Iterable[Any], name: str) -> dict[UUID, list[Any]]:
    found: dict[UUID, list[Any]] = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found


def _all(by: Mapping[UUID, Iterable[Any]]) -> list[Any]:
    return [row for rows in by.values() for row in rows]
