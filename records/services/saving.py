"""The way in for records written one by one, whether by the API, the admin or the demo.

`save` stores a record with the facts that follow from it, and what follows elsewhere.
"""

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet

from orchard import clock
from orchard.access import Caller
from records import places
from records.choices import MAX_WEIGHING_G, WeightKind
from records.models import (
    Block,
    CoOpGrade,
    Crop,
    Cultivar,
    Farm,
    Graft,
    HarvestWeight,
    PlantingLine,
    Species,
    Tree,
)
from records.services import jobs
from records.services.attribution import attribute, attribute_block


@transaction.atomic
def save(record: Any, *, caller: Caller | None = None, trees: Iterable[Tree] | None = None) -> Any:
    """Store a record and what follows from it; `trees` are those of a weighing (None: keep them).

    Raises ValidationError when a rule is broken.
    """
    if caller is not None:
        check_backdating(record, caller)
    if isinstance(record, HarvestWeight):
        _save_weight(record, trees)
    else:
        if isinstance(record, Block):
            measure_block(record)
        _write(record)
    if isinstance(record, Tree | Graft | PlantingLine | Crop):
        attribute_block(_block_of(record))
    if isinstance(record, CoOpGrade | Species | Cultivar):
        jobs.farms_changed(_farms_using(record))
    return record


def _write(record: Any) -> None:
    """An id that is taken must clash, never overwrite another record."""
    record.save(force_insert=record._state.adding)


def _save_weight(weight: HarvestWeight, trees: Iterable[Tree] | None) -> None:
    weigh(weight)
    standing = list(weight.trees.all() if trees is None else trees)
    check_trees(weight, standing)
    attribute(weight, [tree.pk for tree in standing])
    _write(weight)
    weight.trees.set(standing, through_defaults={"farm_id": weight.farm_id})


@transaction.atomic
def delete(record: Any, *, caller: Caller | None = None) -> None:
    """Delete a record that nothing refers to, and what followed from it."""
    if caller is not None:
        check_backdating(record, caller)
    block_id = _block_of(record)
    record.delete()
    if block_id is not None:
        attribute_block(block_id)


# Facts that follow from the record itself --------------------------------------------------------


def measure_block(block: Block) -> None:
    block.boundary_area_m2 = round(places.area_m2(block.boundary)) if block.boundary else None


def weigh(weight: HarvestWeight) -> None:
    """Net and estimated grams from what was entered, refusing what cannot be."""
    check_picking_date(weight)
    note_container_tare(weight)
    weight.net_g = _net_g(weight)
    weight.estimated_from_containers_g = None
    if weight.net_g is None and weight.containers and weight.container_id:
        usual = weight.container.usual_net_g
        weight.estimated_from_containers_g = usual and weight.containers * usual


def note_container_tare(weight: HarvestWeight) -> None:
    """Keep the tare of the day: it is taken anew only when the kind of container changes."""
    stored = HarvestWeight.objects.filter(pk=weight.pk).values("container_id").first()
    if stored is None or stored["container_id"] != weight.container_id:
        weight.container_tare_g = weight.container.tare_g if weight.container_id else None


def check_picking_date(weight: HarvestWeight) -> None:
    """A picking lies in the past of the farm's own calendar."""
    if weight.picked_on > clock.today(weight.farm.time_zone):
        raise fault("picked_on", "The picking date is in the future.", "in-the-future")


def _net_g(weight: HarvestWeight) -> int | None:
    scale_g = weight.scale_g
    if scale_g is None:
        return None
    if scale_g > MAX_WEIGHING_G:
        raise fault(
            "weight", f"A weighing is at most {MAX_WEIGHING_G // 1000} kg.", "absurd-weight"
        )
    if weight.weight_kind == WeightKind.NET:
        return scale_g
    tare_g = total_tare_g(weight)
    if tare_g > scale_g:
        field = "weight" if weight.tare_g is None else "tare_g"
        raise fault(field, "The containers weigh more than the scale showed.", "tare-above-gross")
    return scale_g - tare_g


def total_tare_g(weight: HarvestWeight) -> int:
    if weight.tare_g is not None:
        return weight.tare_g
    return (weight.containers or 0) * (weight.container_tare_g or 0)


def fault(field: str, text: str, code: str) -> ValidationError:
    return ValidationError({field: ValidationError(text, code=code)})


# What a field worker may date back ---------------------------------------------------------------


def check_backdating(record: Any, caller: Caller) -> None:
    """Field workers add and correct records only so many days back, a setting of the farm."""
    day = type(record).dated_by
    held = caller.farms.get(record.farm_id) if day else None
    if held is None or record.area in held.writes or record.area not in held.own:
        return
    earliest = clock.today(record.farm.time_zone) - dt.timedelta(days=record.farm.backdate_days)
    stored = type(record).objects.filter(pk=record.pk).values_list(day, flat=True).first()
    if min(getattr(record, day), stored or dt.date.max) < earliest:
        text = f"Field workers of this farm may record and correct back to {earliest}."
        raise fault(day, text, "too-far-back")


# What follows elsewhere --------------------------------------------------------------------------


def check_trees(weight: HarvestWeight, trees: list[Tree]) -> None:
    """All the trees of a weighing stand in its block."""
    for tree in trees:
        if tree.block_id != weight.block_id:
            raise fault("trees", f"Tree {tree} stands in another block.", "tree-in-another-block")


def _farms_using(record: CoOpGrade | Species | Cultivar) -> QuerySet[Farm]:
    """Farms whose figures rest on a record that belongs to none, so that no tick tells of it."""
    if isinstance(record, CoOpGrade):
        return Farm.objects.filter(pk__in=record.mappings.values("farm_id"))
    cultivars = Cultivar.objects.filter(Q(pk=record.pk) | Q(species_id=record.pk))
    planted = [
        rows.filter(cultivar__in=cultivars).values("farm_id")
        for rows in (Tree.objects, Graft.objects, PlantingLine.objects)
    ]
    return Farm.objects.filter(Q(pk__in=planted[0]) | Q(pk__in=planted[1]) | Q(pk__in=planted[2]))


def _block_of(record: Any) -> Any:
    if isinstance(record, Graft):
        return record.tree.block_id
    return record.block_id if isinstance(record, Tree | PlantingLine | Crop) else None
