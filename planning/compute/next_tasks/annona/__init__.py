"""The rules that hand-pollinated annonas start with, by species and climate, to copy and edit.

Each figure carries its source. Common practice is what growers do, and no source says so. Rules
that only some growers follow (a second crop by leaf stripping, bags for seed, thinning) are there
switched off.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from planning.compute.next_tasks.annona.climates import Climate, climate_at
from planning.compute.next_tasks.annona.crop import (
    FIRST_PICKS,
    INITIAL_COUNT,
    POLLINATION,
    RETAINED_COUNT,
    picking,
)
from planning.compute.next_tasks.annona.options import options_of
from planning.compute.next_tasks.annona.pruning import NO_PRUNING, pruning_of
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import TaskError, WorkKind

__all__ = ["Climate", "RuleSet", "annona_rules", "climate_at"]

_NO_POLLINATION = (
    "Custard apple is seldom pollinated by hand: switch the rule for its visits on where it is."
)
_NO_STRIPPING = (
    "Leaf stripping is not for soursop: it is evergreen and flowers on old wood without it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """A species' rules in a climate; `does_not_apply` says why it has none for a kind of work.

    `options` are rules that a farm switches on if it works so.
    """

    rules: tuple[TaskRule, ...]
    options: tuple[TaskRule, ...] = ()
    does_not_apply: Mapping[WorkKind, str] = field(default_factory=dict)


def annona_rules(species: str, climate: Climate) -> RuleSet:
    """The rules of a species (its code, "sugar-apple") in a climate."""
    if species not in FIRST_PICKS:
        raise TaskError(f"there are no rules for the species {species}")
    rules: list[TaskRule] = []
    does_not_apply: dict[WorkKind, str] = {}
    pruning = pruning_of(species, climate)
    if pruning is not None:
        rules.append(pruning)
    else:
        does_not_apply[WorkKind.PRUNING] = NO_PRUNING.get(species, NO_PRUNING["lowland"])
    if species == "soursop":
        does_not_apply[WorkKind.LEAF_STRIPPING] = _NO_STRIPPING
    if species == "custard-apple":
        does_not_apply[WorkKind.POLLINATION] = _NO_POLLINATION
    else:
        rules.append(POLLINATION)
    rules += [INITIAL_COUNT, RETAINED_COUNT, picking(FIRST_PICKS[species])]
    return RuleSet(
        rules=tuple(rules), options=options_of(species, climate), does_not_apply=does_not_apply
    )
