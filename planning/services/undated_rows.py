"""From what has no date to the rows that say so."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from uuid import UUID

from planning.choices import UndatedWhy
from planning.compute.next_tasks import Waiting
from planning.compute.next_tasks.annona import Climate, RuleSet
from planning.queries.plantings import Planted
from planning.queries.schedules import BlockPlan, Plan
from planning.services.derived import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A farm's climate, and the defaults of the species that it grows, by their ids."""

    climate: Climate | None
    defaults: Mapping[UUID, RuleSet]


UNDATED_COLUMNS = (*("farm_id", "block_id", "why", "season_year", "crop_name", "about", "reason"),)


def waiting_rows(plan: Plan, waiting: Iterable[Waiting]) -> Iterator[Row]:
    """What each rule waits for."""
    why = UndatedWhy.WAITING.value
    for each in waiting:
        block = plan.blocks[each.block].block
        yield (
            block.farm_id,
            each.block,
            why,
            each.season_year,
            each.crop,
            each.rule,
            each.reason,
        )


def unplanned_rows(
    plan: Plan, planted: Mapping[UUID, Planted], grounds: Mapping[UUID, Ground]
) -> Iterator[Row]:
    """What does not apply on each block, and what is not known of it."""
    for block in plan.blocks.values():
        place, ground = block.block, grounds[block.block.farm_id]
        for why, about, reason in _not_planned(block, planted.get(place.pk), ground):
            yield place.farm_id, place.pk, why.value, None, "", about, reason


def _not_planned(
    plan: BlockPlan, planted: Planted | None, ground: Ground
) -> Iterator[tuple[UndatedWhy, str, str]]:
    if planted is None:
        if not plan.rules.values:
            yield UndatedWhy.NOT_KNOWN, "species", _no_species(plan)
        return
    if planted.main.pk not in ground.defaults:
        if not plan.rules.values:
            yield UndatedWhy.NOT_KNOWN, "rules", _no_defaults(planted, ground.climate)
        return
    if planted.others:
        yield UndatedWhy.NOT_KNOWN, "species", _several_species(planted)
    does_not_apply = ground.defaults[planted.main.pk].does_not_apply
    covered = {rule.kind for rule in plan.rules.values} if does_not_apply else set()
    for kind, reason in does_not_apply.items():
        if kind not in covered:
            yield UndatedWhy.DOES_NOT_APPLY, kind.value, reason


def _no_species(plan: BlockPlan) -> str:
    return (
        f"No trees or planting lines of a known species are recorded on block {plan.block.code},"
        " so no default rules hold there: add the plants, or rules of the farm's own."
    )


def _no_defaults(planted: Planted, climate: Climate | None) -> str:
    if climate is None:
        return (
            "The farm has no coordinates, so its climate is not known: add its latitude, or choose"
            " a climate for its schedule."
        )
    return (
        f"There are no default rules for {planted.main.common_name}: add rules of the farm's own."
    )


def _several_species(planted: Planted) -> str:
    others = ", ".join(species.common_name for species in planted.others)
    return (
        f"Most trees of this block are {planted.main.common_name}, whose rules it goes by. Rules"
        f" for its other trees ({others}) are yours to add."
    )
