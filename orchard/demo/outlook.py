"""What lies ahead on each farm, printed: hours for flowers, stages to come, what is due next."""

import datetime as dt
from collections.abc import Iterable, Iterator
from zoneinfo import ZoneInfo

from orchard import clock
from planning.compute.pollination_windows import Part, joined
from planning.models import NextTask
from planning.queries.due import due_next
from planning.queries.plantings import planted_blocks
from planning.queries.pollination_hours import hours_for
from planning.queries.stage_forecasts import StageDate, stages_ahead
from planning.services.labour_plans import BlockLabour, labour_plan
from records.models import Block, CoOp, Farm, Species

MANY = 4  # stages shown of a block


def outlook(co_op: CoOp) -> str:
    """Farm after farm, in order of code."""
    farms = Farm.objects.filter(memberships__co_op=co_op).order_by("code").distinct()
    return "\n".join(line for farm in farms for line in _of_farm(farm))


def _of_farm(farm: Farm) -> Iterator[str]:
    today = clock.today(farm.time_zone)
    blocks = list(Block.objects.filter(farm=farm, retired_on=None).order_by("code"))
    planted = planted_blocks(blocks, today)
    yield f"\n{farm.code} {farm.name}, {today:%d %b %Y}"
    yield "  Hours for flowers today"
    yield from _hours(farm, {each.main for each in planted.values()}, today)
    yield "  Stages ahead, in four seasons of five between the days in brackets"
    ahead = stages_ahead(farm.pk)
    for block in blocks:
        yield from _stages(block, ahead.get(block.pk, []), today)
    yield "  Pollination still to be done, an estimate"
    yield from _labour(farm, today)
    yield "  Tasks due next"
    tasks = due_next(farm.pk)
    yield from (_task(task) for task in tasks)
    if not tasks:
        yield "    none"


def _hours(farm: Farm, species: Iterable[Species], today: dt.date) -> Iterator[str]:
    kinds = sorted(species, key=lambda kind: kind.common_name)
    found = hours_for(farm, [kind.pk for kind in kinds], today, today)
    zone = ZoneInfo(farm.time_zone)
    for kind in kinds:
        day = found[kind.pk][today]
        brush, gather = _sessions(day.brush, zone), _sessions(day.gather, zone)
        yield f"    {kind.common_name:<14} brush {brush}; gather pollen {gather}"
        yield f"    {'':<14} {day.brush.reason}"


def _sessions(part: Part, zone: ZoneInfo) -> str:
    times = [
        f"{starts.astimezone(zone):%H:%M}-{ends.astimezone(zone):%H:%M}"
        for starts, ends in joined(part.sessions)
    ]
    return " and ".join(times) or "not known"


def _stages(block: Block, stages: Iterable[StageDate], today: dt.date) -> Iterator[str]:
    """The next stages that have a date, and why the first of them has it."""
    dated = [each for each in stages if each.observed_on is None and each.on_date is not None]
    coming = sorted(
        (each for each in dated if each.high_on is not None and each.high_on >= today),
        key=lambda each: (each.on_date, each.bbch),
    )[:MANY]
    if not coming:
        yield f"    {block.code:<8} nothing is known to come"
        return
    yield f"    {block.code:<8} {', '.join(_stage(each) for each in coming)}"
    yield f"    {'':<8} {coming[0].reason}"


def _stage(stage: StageDate) -> str:
    name = stage.stage.replace("-", " ")
    return f"{name} {stage.on_date:%d %b} ({stage.low_on:%d %b} to {stage.high_on:%d %b})"


def _labour(farm: Farm, today: dt.date) -> Iterator[str]:
    plan = labour_plan(farm, today)
    for row in plan.blocks:
        code = row.ground.block.code
        if row.visits:
            yield f"    {code:<8} {_visits(row)}"
            if "schedule" in row.reasons:
                yield f"    {'':<8} {row.reasons['schedule']}"
        else:
            yield f"    {code:<8} {next(iter(row.reasons.values()), 'no visit is left')}"
    yield f"    {'crew':<8} {plan.fit.reason}"


def _visits(row: BlockLabour) -> str:
    """All of a block's visits in a line; flowers only where those of a tree are known."""
    visits = row.visits
    hours = sum(visit.minutes for visit in visits) / 60
    people = [visit.people for visit in visits if visit.people is not None]
    parts = [
        f"{len(visits)} visits from {visits[0].on:%d %b} to {visits[-1].on:%d %b}",
        f"{hours:,.0f} hours",
    ]
    if row.counted is not None:
        donors = sum(visit.donor_flowers or 0 for visit in visits)
        parts.insert(1, f"{row.counted.flowers:,.0f} flowers, {donors:,.0f} pollen flowers")
    if people:
        parts.append(f"{max(people)} people to finish one in its hours")
    return "; ".join(parts)


def _task(task: NextTask) -> str:
    by, what = f"{task.best_on:%d %b %Y}", f"{task.title} ({task.get_state_display()})"
    return f"    by {by}  {task.block.code:<8}  {what:<36}  {task.reason}"
