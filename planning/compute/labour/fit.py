"""Whether a crew can do what is planned; where not, what it leaves and how many people to add."""

from collections.abc import Iterator, Mapping, Sequence

from planning.compute.labour.crew import CrewPlanner, flowers_of
from planning.compute.labour.room import Room
from planning.compute.labour.values import (
    TOLERANCE,
    BlockPlan,
    CrewFit,
    DayWork,
    Shortfall,
    require,
)
from planning.compute.labour.visits import BlockBloom

# Of the flowers planned: a crew that reaches so many does the plan, but for parts of trees.
ENOUGH = 0.99


def crew_fit(
    blocks: Sequence[BlockBloom], plans: Mapping[str, BlockPlan], crew: int | None
) -> CrewFit:
    """Whether the crew on hand can do the plans (of `visits_of`), what it leaves, how many to add.

    `people_needed` do every visit on its own best date.
    """
    require(crew is None or crew >= 0, "a crew has no fewer people than none")
    needed, wanted = people_needed(blocks, plans), sum(plan.flowers for plan in plans.values())
    why = _why_unjudged(plans, crew)
    if crew is None or why:
        return _unjudged(crew, needed, why)
    planner = CrewPlanner(blocks, plans)
    work = planner.plan(crew)
    if flowers_of(work) >= ENOUGH * wanted - TOLERANCE:
        return _fitting(crew, needed, work)
    add = _people_to_add(planner, crew, needed or 0, wanted)
    shortfalls = list(_shortfalls(blocks, plans, work))
    return CrewFit(
        crew=crew,
        fits=False,
        people_needed=needed,
        add=add,
        work=work,
        shortfalls=shortfalls,
        reason=(
            f"{_people(crew)} can pollinate {_part(blocks, flowers_of(work), wanted)} in the hours"
            f" there are: add {_people(add)}, or make fewer visits where it costs least"
        ),
    )


def people_needed(blocks: Sequence[BlockBloom], plans: Mapping[str, BlockPlan]) -> int | None:
    """People who do every visit within the hours of its day; None where hours are not known."""
    if _unknown(plans):
        return None
    room = Room({block.block: block.hours for block in blocks})
    visits = [(plan.block, visit) for plan in plans.values() for visit in plan.visits]
    for block, visit in visits:
        room.use(block, visit.on, visit.minutes)
    return max((room.people_for(visit.on) for _, visit in visits), default=0)


def _unknown(plans: Mapping[str, BlockPlan]) -> list[str]:
    """Blocks with visits on days whose hours are not known."""
    return [
        plan.block for plan in plans.values() if any(visit.people is None for visit in plan.visits)
    ]


def _why_unjudged(plans: Mapping[str, BlockPlan], crew: int | None) -> str:
    if not any(plan.visits for plan in plans.values()):
        return "no visit is still to be made"
    if unknown := _unknown(plans):
        number = "one block" if len(unknown) == 1 else f"{len(unknown)} blocks"
        return f"the working hours of {number} are not known on all days of their visits"
    return "" if crew is not None else "how many people are on hand is not known"


def _unjudged(crew: int | None, needed: int | None, reason: str) -> CrewFit:
    return CrewFit(
        crew=crew,
        fits=None,
        people_needed=needed,
        add=None,
        work=(),
        shortfalls=(),
        reason=reason,
    )


def _fitting(crew: int, needed: int | None, work: Sequence[DayWork]) -> CrewFit:
    own_dates = needed is not None and needed <= crew
    return CrewFit(
        crew=crew,
        fits=True,
        people_needed=needed,
        add=0,
        work=work,
        shortfalls=(),
        reason=(
            f"{_people(crew)} can make every visit on its best date"
            if own_dates
            else f"{_people(crew)} can pollinate as many flowers, with some visits spread over"
            " several days or moved"
        ),
    )


def _people_to_add(planner: CrewPlanner, crew: int, needed: int, wanted: float) -> int:
    """The fewest more people with whom the plan can be done; `needed` people surely can.

    On a large farm within a hundredth of them, and by a quicker plan that may ask for a few more.
    """
    low, high = crew, max(needed, crew + 1)
    is_large = planner.is_large
    while high - low > (1 + high // 100 if is_large else 1):
        middle = (low + high) // 2
        work = planner.quick_plan(middle) if is_large else planner.plan(middle, looks=0)
        enough = flowers_of(work) >= ENOUGH * wanted - TOLERANCE
        low, high = (low, middle) if enough else (middle, high)
    return high - crew


def _shortfalls(
    blocks: Sequence[BlockBloom], plans: Mapping[str, BlockPlan], work: Sequence[DayWork]
) -> Iterator[Shortfall]:
    for block in blocks:
        plan = plans[block.block]
        made = [each for each in work if each.block == block.block]
        lost = plan.flowers - flowers_of(made)
        if lost > TOLERANCE and plan.visits:
            sets = block.set_and_retention
            yield Shortfall(
                block=block.block,
                visits_planned=len(plan.visits),
                visits_made=sum(each.trees for each in made) / block.trees,
                share=lost / plan.flowers,
                flowers=lost if block.is_counted else None,
                fruit=lost * sets if block.is_counted and sets is not None else None,
            )


def _part(blocks: Sequence[BlockBloom], flowers: float, wanted: float) -> str:
    if all(block.is_counted for block in blocks):
        return f"{flowers:.0f} of {wanted:.0f} flowers"
    return f"{flowers / wanted:.0%} of the flowers"


def _people(number: int) -> str:
    return "one person" if number == 1 else f"{number or 'no'} people"
