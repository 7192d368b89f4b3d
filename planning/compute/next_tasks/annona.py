"""The rules that hand-pollinated annonas start with, by species and climate, to copy and edit.

Each figure carries its source. Common practice is what growers do, and no source says so.

* Common practice: prune once a year just before natural leaf-out, about the first week of March
  in the northern subtropics, and no later than when new shoots begin to push; 4-5 visits a tree
  over its bloom; pick for ten weeks or more. Evergreen soursop flowers on old wood and has no
  leaf-out; custard apple is seldom pollinated by hand.
* Cherimoya in New Zealand is pollinated every 2-3 days (cherimoya hand-pollination notes, citing
  trials there).
* Dormant pruning in Australia: September (Sanewski 1991, in Paull & Duarte 2011, ch. 6). It is
  data of its own; that it is the northern window six months on is a check and no derivation.
* Winter pruning of sugar apple in Taiwan: January and February. Elsewhere in tropical lowland the
  day of pruning or leaf stripping is the grower's choice and starts the cycle.
* Flower to ripe fruit: sugar apple 110-120 days (value from memory), atemoya 100-120 (FAO
  Ecocrop 3236), cherimoya 4-7 months (Peru manual), soursop 5-6 months (value from memory),
  annonas in general 5-6 months (Pinto et al. 2005, s. 5.3).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from planning.compute.next_tasks import (
    AfterStage,
    AfterWork,
    DateWindow,
    Days,
    MonthDay,
    Repeat,
    Stages,
    TaskError,
    TaskRule,
    Which,
    WorkKind,
)

COMMON = "common practice, no source"
TROPIC_DEG = 23.44  # value from memory

NEW_SHOOTS = Stages(first=7, last=11, name="new shoots")
FIRST_BLOOM = Stages(first=60, last=67, name="first bloom")
END_OF_BLOOM = Stages(first=69, last=69, name="end of bloom")
END_OF_HARVEST = Stages(first=99, last=99, name="end of harvest")


class Climate(StrEnum):
    NORTHERN_SUBTROPICS = "northern-subtropics"
    SOUTHERN_SUBTROPICS = "southern-subtropics"
    TROPICAL_LOWLAND = "tropical-lowland"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """A species' rules in a climate; `does_not_apply` says why it has none for a kind of work."""

    rules: tuple[TaskRule, ...]
    does_not_apply: Mapping[WorkKind, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pruning:
    window: DateWindow
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _FirstPick:
    """Days from first bloom to the first picking."""

    days: Days
    source: str


def _window(opens: tuple[int, int], best: tuple[int, int], closes: tuple[int, int]) -> DateWindow:
    """A pruning window between days given as (month, day)."""
    return DateWindow(
        opens=MonthDay(month=opens[0], day=opens[1]),
        best=MonthDay(month=best[0], day=best[1]),
        closes=MonthDay(month=closes[0], day=closes[1]),
        because="Prune just before leaf-out.",
    )


_NORTH = _Pruning(window=_window((2, 22), (3, 7), (3, 21)), source=COMMON)
_SEPTEMBER = _window((9, 1), (9, 15), (9, 30))
_AUSTRALIA = _Pruning(
    window=_SEPTEMBER,
    source="September: Sanewski 1991 in Paull & Duarte 2011, ch. 6; its best day: " + COMMON,
)
_SOUTH = _Pruning(
    window=_SEPTEMBER, source="common practice, no source; as atemoya in SE Queensland"
)
_TAIWAN = _Pruning(
    window=_window((1, 1), (1, 31), (2, 29)),
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

# Months are taken as 30 days. `closes` is the last day on which the first fruit is looked for.
_FIRST_PICKS = {
    "sugar-apple": _FirstPick(
        days=Days(opens=110, best=120, closes=140),
        source="110-120 days: value from memory; the last day: " + COMMON,
    ),
    "atemoya": _FirstPick(
        days=Days(opens=100, best=120, closes=140),
        source="100-120 days: FAO Ecocrop 3236; the last day: " + COMMON,
    ),
    "cherimoya": _FirstPick(
        days=Days(opens=120, best=165, closes=210),
        source="4-7 months: practical manual, Peru; the best day: its middle",
    ),
    "soursop": _FirstPick(
        days=Days(opens=150, best=165, closes=180),
        source="5-6 months: value from memory; the best day: its middle",
    ),
    "custard-apple": _FirstPick(
        days=Days(opens=150, best=165, closes=180),
        source="annonas, 5-6 months: Pinto et al. 2005, s. 5.3; the best day: its middle",
    ),
}

_NO_PRUNING = {
    "soursop": "Soursop is evergreen and flowers on old wood: it has no leaf-out to prune before.",
    "lowland": (
        "In tropical lowland the day of pruning or leaf stripping is the grower's choice and"
        " starts the cycle: add a window of the farm's own."
    ),
}
_NO_POLLINATION = "Custard apple is seldom pollinated by hand: add a rule where it is."


def climate_at(latitude_deg: float) -> Climate:
    """The climate to propose by latitude alone; a farm in tropical highland chooses another."""
    if abs(latitude_deg) < TROPIC_DEG:
        return Climate.TROPICAL_LOWLAND
    return Climate.NORTHERN_SUBTROPICS if latitude_deg > 0 else Climate.SOUTHERN_SUBTROPICS


def annona_rules(species: str, climate: Climate) -> RuleSet:
    """The rules of a species (its code, "sugar-apple") in a climate."""
    if species not in _FIRST_PICKS:
        raise TaskError(f"there are no rules for the species {species}")
    rules: list[TaskRule] = []
    does_not_apply: dict[WorkKind, str] = {}
    pruning = _PRUNINGS.get((species, climate))
    if pruning is not None:
        rules.append(_pruning(pruning))
    else:
        does_not_apply[WorkKind.PRUNING] = _NO_PRUNING.get(species, _NO_PRUNING["lowland"])
    if species == "custard-apple":
        does_not_apply[WorkKind.POLLINATION] = _NO_POLLINATION
    else:
        rules.append(_POLLINATION)
    rules += [_INITIAL_COUNT, _RETAINED_COUNT, _picking(_FIRST_PICKS[species])]
    return RuleSet(rules=tuple(rules), does_not_apply=does_not_apply)


def _pruning(pruning: _Pruning) -> TaskRule:
    return TaskRule(
        code="pruning",
        kind=WorkKind.PRUNING,
        title="Pruning",
        noun="pruning",
        trigger=pruning.window,
        until=NEW_SHOOTS,
        early_days=60,
        sources={"trigger": pruning.source, "until": COMMON, "early_days": COMMON},
    )


_POLLINATION = TaskRule(
    code="pollination",
    kind=WorkKind.POLLINATION,
    title="Pollination visit",
    noun="visit",
    trigger=AfterStage(
        stages=FIRST_BLOOM,
        days=Days(opens=0, best=1, closes=3),
        shown_by=WorkKind.POLLINATION,
    ),
    repeat=Repeat(days=Days(opens=2, best=3, closes=4), times=5),
    until=END_OF_BLOOM,
    sources={
        "trigger": COMMON,
        "repeat": "every 2-3 days: New Zealand cherimoya notes; the last day: " + COMMON,
        "end": "4-5 visits: " + COMMON,
        "until": "BBCH general scale, 69 (value from memory)",
    },
)

_INITIAL_COUNT = TaskRule(
    code="initial-count",
    kind=WorkKind.COUNTING,
    detail="initial",
    title="Count of fruit set",
    noun="count",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION,
        which=Which.LAST,
        days=Days(opens=14, best=21, closes=35),
    ),
    early_days=7,
    sources={"trigger": COMMON, "early_days": COMMON},
)

_RETAINED_COUNT = TaskRule(
    code="retained-count",
    kind=WorkKind.COUNTING,
    detail="retained",
    title="Count of fruit retained",
    noun="count",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION,
        which=Which.LAST,
        days=Days(opens=60, best=75, closes=90),
    ),
    sources={"trigger": COMMON},
)


def _picking(first: _FirstPick) -> TaskRule:
    return TaskRule(
        code="picking",
        kind=WorkKind.PICKING,
        title="Picking",
        noun="picking",
        trigger=AfterStage(stages=FIRST_BLOOM, days=first.days, shown_by=WorkKind.POLLINATION),
        repeat=Repeat(days=Days(opens=2, best=4, closes=7), for_days=70),
        until=END_OF_HARVEST,
        early_days=30,
        sources={
            "trigger": first.source,
            "early_days": COMMON,
            "repeat": COMMON,
            "end": "ten weeks: " + COMMON,
            "until": "BBCH general scale, 99 (value from memory)",
        },
    )
