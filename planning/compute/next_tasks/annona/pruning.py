"""When annonas are pruned.

* Common practice: once a year just before natural leaf-out, about the first week of March in the
  northern subtropics, and no later than when new shoots have just begun to push. Evergreen
  soursop flowers on old wood and has no leaf-out.
* Dormant pruning in Australia: September (Sanewski 1991, in Paull & Duarte 2011, ch. 6). It is
  data of its own; that it is the northern window six months on is a check and no derivation.
* Winter pruning of sugar apple in Taiwan: January and February. Elsewhere in tropical lowland the
  day of pruning or leaf stripping is the grower's choice and starts the cycle, so that no leaf-out
  is waited for there.
"""

from dataclasses import dataclass

from planning.compute.next_tasks.annona.climates import COMMON, LEAF_OUT, Climate, yearly
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import WorkKind
from planning.compute.next_tasks.triggers import BeforeStage, DateWindow, Trigger
from planning.compute.next_tasks.windows import DaysAround


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pruning:
    window: DateWindow
    source: str


BECAUSE = "Prune just before leaf-out."
_BEFORE_LEAF_OUT = DaysAround(opens_before=14, best_before=3, closes_after=7)
_AROUND = "14 days before leaf-out, 3 and 7 days after it: " + COMMON
_SEPTEMBER = yearly((9, 1), (9, 15), (9, 30), BECAUSE)

_NORTH = _Pruning(window=yearly((2, 22), (3, 7), (3, 21), BECAUSE), source=COMMON)
_AUSTRALIA = _Pruning(
    window=_SEPTEMBER,
    source="September: Sanewski 1991 in Paull & Duarte 2011, ch. 6; its best day: " + COMMON,
)
_SOUTH = _Pruning(
    window=_SEPTEMBER, source="common practice, no source; as atemoya in SE Queensland"
)
_TAIWAN = _Pruning(
    window=yearly((1, 1), (1, 31), (2, 29), BECAUSE),
    source="Taiwan, winter pruning in January and February; its best day: " + COMMON,
)

_PRUNINGS = {
    ("sugar-apple", Climate.NORTHERN_SUBTROPICS): _NORTH,
    ("sugar-apple", Climate.SOUTHERN_SUBTROPICS): _SOUTH,
    ("sugar-apple", Climate.TROPICAL_LOWLAND): _TAIWAN,
    ("atemoya", Climate.NORTHERN_SUBTROPICS): _NORTH,
    ("atemoya", Climate.SOUTHERN_SUBTROPICS): _AUSTRALIA,
    ("cherimoya", Climate.NORTHERN_SUBTROPICS): _NORTH,
    ("cherimoya", Climate.SOUTHERN_SUBTROPICS): _SOUTH,
    ("custard-apple", Climate.NORTHERN_SUBTROPICS): _NORTH,
    ("custard-apple", Climate.SOUTHERN_SUBTROPICS): _SOUTH,
}
NO_PRUNING = {
    "soursop": "Soursop is evergreen and flowers on old wood: it has no leaf-out to prune before.",
    "lowland": (
        "In tropical lowland the day of pruning or leaf stripping is the grower's choice and"
        " starts the cycle: add a window of the farm's own."
    ),
}


def pruning_of(species: str, climate: Climate) -> TaskRule | None:
    found = _PRUNINGS.get((species, climate))
    return _rule(found, climate) if found else None


def _rule(pruning: _Pruning, climate: Climate) -> TaskRule:
    """By leaf-out where one is known, except where pruning itself brings it on."""
    trigger: Trigger = pruning.window
    source = pruning.source
    if climate is not Climate.TROPICAL_LOWLAND:
        trigger = BeforeStage(stages=LEAF_OUT, days=_BEFORE_LEAF_OUT, otherwise=pruning.window)
        source = f"{source}; {_AROUND}"
    return TaskRule(
        code="pruning",
        kind=WorkKind.PRUNING,
        title="Pruning",
        noun="pruning",
        trigger=trigger,
        early_days=60,
        sources={"trigger": source, "early_days": COMMON},
    )
