"""The way in for records written one by one, whether by the API, the admin or the demo.

`save` stores a record with the facts that follow from it, the rows below it, and what follows
elsewhere. The rules of each family have a module here.
"""

from collections.abc import Callable, Iterable
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from orchard.access import Caller
from records import models, places
from records.models import (
    Block,
    CoOp,
    CoOpGrade,
    Crop,
    Cultivar,
    Farm,
    Graft,
    HarvestWeight,
    PlantingLine,
    PollenBatch,
    Species,
    Tree,
    WeatherDay,
    WeatherStation,
)
from records.services import jobs
from records.services.attribution import attribute, attribute_block
from records.services.saving import field, fruit, links, pollination, shed, weather
from records.services.saving.dates import check_backdating, check_not_in_future
from records.services.saving.faults import fault
from records.services.saving.links import Given, linked
from records.services.saving.weights import estimate, weigh

__all__ = ["delete", "fault", "measure_block", "save"]


@transaction.atomic
def save(record: Any, *, caller: Caller | None = None, **given: Iterable[Any] | None) -> Any:
    """Store a record and what follows from it.

    `given` names rows below it: trees, donors, rounds, lines ... (None: keep them). Raises
    ValidationError when a rule is broken.
    """
    rows = links.as_given(given)
    links.check_same_farm(record, rows)
    if rule := RULES.get(type(record)):
        rule(record, rows)
    if caller is not None:
        check_backdating(record, caller)
        if isinstance(record, models.Lot):
            shed.check_may_pack(rows, caller)
    links.note_changes(record, rows)
    _write(record)
    links.write(record, rows)
    _follow(record)
    return record


def _write(record: Any) -> None:
    """An id that is taken must clash, never overwrite another record."""
    record.save(force_insert=record._state.adding)


@transaction.atomic
def delete(record: Any, *, caller: Caller | None = None) -> None:
    """Delete a record that nothing refers to, and what followed from it."""
    if caller is not None:
        check_backdating(record, caller)
    if isinstance(record, models.Lot):
        shed.check_may_go(record)
    block_id = _block_of(record)
    if isinstance(record, WeatherDay | WeatherStation):
        weather.tell_farms_of(_station_of(record))
    record.delete()
    if block_id is not None:
        attribute_block(block_id)


# Facts that follow from the record itself --------------------------------------------------------


def measure_block(block: Block) -> None:
    block.boundary_area_m2 = round(places.area_m2(block.boundary)) if block.boundary else None


def prepare_weight(weight: HarvestWeight, given: Given) -> None:
    check_not_in_future(weight)
    weigh(weight)
    estimate(weight)
    trees = linked(weight, given, "trees")
    links.check_in_block(weight, trees)
    attribute(weight, [tree.pk for tree in trees])


RULES: dict[type[Any], Callable[[Any, Given], None]] = {
    Block: lambda block, given: measure_block(block),
    HarvestWeight: prepare_weight,
    models.TaskLog: field.prepare_task_log,
    models.GrowthStage: field.prepare_growth_stage,
    models.TrunkGirth: field.prepare_trunk_girth,
    PollenBatch: pollination.prepare_pollen_batch,
    models.PollinationRound: pollination.prepare_round,
    models.FruitCount: fruit.prepare_fruit_count,
    models.FruitSample: fruit.prepare_fruit_sample,
    models.Delivery: shed.prepare_delivery,
    models.Intake: shed.prepare_intake,
    models.Lot: shed.prepare_lot,
    models.WeatherStation: weather.prepare_station,
    models.WeatherDay: weather.prepare_weather_day,
}


# What follows elsewhere --------------------------------------------------------------------------


def _follow(record: Any) -> None:
    if isinstance(record, Tree | Graft | PlantingLine | Crop):
        attribute_block(_block_of(record))
    if isinstance(record, Tree | Graft):
        pollination.settle_rounds_of_tree(record.tree if isinstance(record, Graft) else record)
    if isinstance(record, PollenBatch):
        pollination.settle_rounds_of(record)
    if isinstance(record, WeatherDay | WeatherStation):
        weather.tell_farms_of(_station_of(record))
    if isinstance(record, CoOp | CoOpGrade | Species | Cultivar):
        jobs.farms_changed(_farms_using(record))


def _farms_using(record: CoOp | CoOpGrade | Species | Cultivar) -> QuerySet[Farm]:
    """Farms whose figures rest on a record that belongs to none, so that no tick tells of it."""
    if isinstance(record, CoOp):
        return Farm.objects.filter(memberships__co_op=record).distinct()
    if isinstance(record, CoOpGrade):
        sorted_as = models.SortedWeight.objects.filter(co_op_grade=record).values("farm_id")
        mapped = record.mappings.values("farm_id")
        return Farm.objects.filter(Q(pk__in=mapped) | Q(pk__in=sorted_as))
    cultivars = Cultivar.objects.filter(Q(pk=record.pk) | Q(species_id=record.pk))
    planted = [
        rows.filter(cultivar__in=cultivars).values("farm_id")
        for rows in (Tree.objects, Graft.objects, PlantingLine.objects)
    ]
    return Farm.objects.filter(Q(pk__in=planted[0]) | Q(pk__in=planted[1]) | Q(pk__in=planted[2]))


def _station_of(record: WeatherDay | WeatherStation) -> WeatherStation:
    return record if isinstance(record, WeatherStation) else record.station


def _block_of(record: Any) -> Any:
    if isinstance(record, Graft):
        return record.tree.block_id
    return record.block_id if isinstance(record, Tree | PlantingLine | Crop) else None
