"""What the co-op's packing shed took in from the members that deliver to it, week by week.

Fruit loses a little weight on the way. It is sorted within days; what came in last is not yet.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from orchard.demo.cast import Cast, Farm
from orchard.demo.harvest import Weighing, seasons_picked

SORTED_WITHIN = timedelta(days=5)
GRADE_SHARES = {"1": 0.7, "2": 0.2, "C": 0.07}
REJECTED = "rot"  # the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """A week's fruit of one cultivar. `sorted_g` is by the co-op's grades; empty: not sorted."""

    farm: str
    cultivar: str
    received_on: date
    docket: str
    net_g: int
    sorted_g: dict[str, int]
    rejected_g: int


def intakes(cast: Cast) -> Iterator[Intake]:
    for farm in cast.farms:
        if farm.code in cast.co_op.delivering:
            for _, picked in seasons_picked(cast, farm):
                yield from _season(cast, farm, picked)


def _season(cast: Cast, farm: Farm, picked: list[Weighing]) -> Iterator[Intake]:
    weeks: Counter[tuple[date, str]] = Counter()
    for weighing in picked:
        friday = weighing.picked_on + timedelta(days=(4 - weighing.picked_on.weekday()) % 7)
        weeks[friday, weighing.cultivar] += weighing.net_g or 0
    for (friday, cultivar), picked_g in sorted(weeks.items()):
        if friday <= cast.as_of and picked_g:
            yield _intake(cast, farm, cultivar, friday, picked_g)


def _intake(cast: Cast, farm: Farm, cultivar: str, friday: date, picked_g: int) -> Intake:
    rng = Random(f"{farm.code} {cultivar} {friday} intake")
    net_g = _to_100_g(picked_g * rng.uniform(0.985, 0.998))
    sorted_g: dict[str, int] = {}
    if friday + SORTED_WITHIN <= cast.as_of:
        sorted_g = {
            grade: _to_100_g(net_g * share * rng.uniform(0.9, 1.0))
            for grade, share in GRADE_SHARES.items()
        }
    return Intake(
        farm=farm.code,
        cultivar=cultivar,
        received_on=friday,
        docket=f"{farm.code}-{friday:%y%m%d}",
        net_g=net_g,
        sorted_g=sorted_g,
        rejected_g=net_g - sum(sorted_g.values()) if sorted_g else 0,
    )


def _to_100_g(weight_g: float) -> int:
    return round(weight_g / 100) * 100
