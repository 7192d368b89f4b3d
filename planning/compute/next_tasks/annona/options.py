"""Work that only some growers do: a second crop, bags for seed, thinning.

* Stripping leaves or pruning again a month or more later brings a second bloom and crop of sugar
  apple, with an uncertain return (common practice).
* Cherimoya in Almeria: tipping and stripping of the apical leaves on 1 or 15 June brings a second
  bloom in July (Soler & Cuevas 2008, HortTechnology 18(1):24).
* Atemoya in Australia: leaves are made to drop at 5-10 % budbreak (value from memory).
* Atemoya x sugar apple at Bengaluru: pruned 60 to 120 days after the final harvest (J. Hortic.
  Sci. 17(2), 2022).
* A flower bagged right after hand pollination gets no other pollen (common practice).
"""

from planning.compute.next_tasks.annona.climates import BUDBREAK, COMMON, Climate, yearly
from planning.compute.next_tasks.annona.crop import POLLINATION
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import SeasonEvent, Which, WorkKind
from planning.compute.next_tasks.triggers import AfterEvent, AfterStage, AfterWork, Trigger
from planning.compute.next_tasks.windows import Days

_SECOND_CROP = "Strip the leaves of shoot tips for a later second crop."
_ALMERIA = "1 or 15 June, Almeria: Soler & Cuevas 2008, HortTechnology 18(1):24"


def options_of(species: str, climate: Climate) -> tuple[TaskRule, ...]:
    """The rules that are there switched off."""
    rules = [_SEED_BAGS, _THINNING]
    if species == "custard-apple":
        rules.append(POLLINATION)
    if (species, climate) in _STRIPPINGS:
        rules.append(_STRIPPINGS[species, climate])
    if (species, climate) == ("atemoya", Climate.TROPICAL_LOWLAND):
        rules.append(_AFTER_HARVEST)
    return tuple(rules)


def _stripping(trigger: Trigger, source: str) -> TaskRule:
    return TaskRule(
        code="leaf-stripping",
        kind=WorkKind.LEAF_STRIPPING,
        title="Leaf stripping",
        noun="stripping",
        trigger=trigger,
        sources={"trigger": source},
    )


_A_MONTH_AFTER_PRUNING = _stripping(
    AfterWork(kind=WorkKind.PRUNING, which=Which.FIRST, days=Days(opens=30, best=45, closes=90)),
    "a month or more after the pruning: " + COMMON,
)
_AT_BUDBREAK = _stripping(
    AfterStage(stages=BUDBREAK, days=Days(opens=0, best=2, closes=7)),
    "at 5-10 % budbreak, Australia (value from memory); its days: " + COMMON,
)
_STRIPPINGS = {
    ("sugar-apple", Climate.NORTHERN_SUBTROPICS): _A_MONTH_AFTER_PRUNING,
    ("sugar-apple", Climate.SOUTHERN_SUBTROPICS): _A_MONTH_AFTER_PRUNING,
    ("cherimoya", Climate.NORTHERN_SUBTROPICS): _stripping(
        yearly((6, 1), (6, 1), (6, 15), _SECOND_CROP), _ALMERIA
    ),
    ("cherimoya", Climate.SOUTHERN_SUBTROPICS): _stripping(
        yearly((12, 1), (12, 1), (12, 15), _SECOND_CROP), f"six months after {_ALMERIA}; no source"
    ),
    ("atemoya", Climate.NORTHERN_SUBTROPICS): _AT_BUDBREAK,
    ("atemoya", Climate.SOUTHERN_SUBTROPICS): _AT_BUDBREAK,
}

_SEED_BAGS = TaskRule(
    code="seed-bags",
    kind=WorkKind.BAGGING,
    title="Bagging flowers meant for seed",
    noun="bagging",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION, which=Which.FIRST, days=Days(opens=0, best=0, closes=1)
    ),
    sources={"trigger": "right after hand pollination: " + COMMON},
)

_THINNING = TaskRule(
    code="thinning",
    kind=WorkKind.THINNING,
    title="Thinning fruit",
    noun="thinning",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION, which=Which.LAST, days=Days(opens=30, best=45, closes=60)
    ),
    sources={"trigger": COMMON},
)

_AFTER_HARVEST = TaskRule(
    code="pruning",
    kind=WorkKind.PRUNING,
    title="Pruning",
    noun="pruning",
    trigger=AfterEvent(event=SeasonEvent.LAST_PICKING, days=Days(opens=60, best=90, closes=120)),
    sources={
        "trigger": "60-120 days after the final harvest, Bengaluru: J. Hortic. Sci. 17(2), 2022;"
        " the best day: its middle"
    },
)
