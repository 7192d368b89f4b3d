"""Yield by the section of the trunk, which stands for the size of a tree.

Sections of a tree's trunks add up (diameters do not). The girth that counts is each trunk's last
one up to the first picking day; without one, its first in the rest of the season. Its date is
told, as trunks grow.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from planning.compute.seasons_compared.values import (
    ComparisonError,
    Efficiency,
    Girth,
    Section,
    TreeEfficiency,
)


def sections(girths: Iterable[Girth], first_on: date, ends_on: date) -> list[Section]:
    """The section of each tree that was measured in time, tree by tree."""
    by_tree: dict[str, dict[int, list[Girth]]] = defaultdict(lambda: defaultdict(list))
    for girth in girths:
        if girth.on <= ends_on:
            by_tree[girth.tree][girth.trunk].append(girth)
    return [
        _section(tree, [_used(found, first_on) for found in trunks.values()], first_on)
        for tree, trunks in sorted(by_tree.items())
    ]


def _used(girths: Sequence[Girth], first_on: date) -> Girth:
    """The last before picking began, else the first after."""
    before = [girth for girth in girths if girth.on <= first_on]
    return max(before, key=lambda g: g.on) if before else min(girths, key=lambda g: g.on)


def _section(tree: str, used: Sequence[Girth], first_on: date) -> Section:
    days = [girth.on for girth in used]
    return Section(
        tree=tree,
        section_cm2=sum(girth.section_cm2 for girth in used),
        trunks=len(used),
        first_on=min(days),
        last_on=max(days),
        is_before_picking=max(days) <= first_on,
    )


def yield_efficiency(kg: float, section_cm2: float) -> float:
    """Kilograms by square centimetre of trunk."""
    if kg < 0 or section_cm2 <= 0:
        raise ComparisonError("a yield is not negative, and a trunk has a section")
    return kg / section_cm2


def tree_efficiency(kg: float | None, section: Section | None) -> TreeEfficiency:
    """Of one tree; the reason says what is missing, or that its girth is of later."""
    lacks = []
    if kg is None:
        lacks.append("It was not weighed by itself.")
    if section is None:
        lacks.append("Its trunk was not measured in time.")
    if kg is None or section is None:
        return TreeEfficiency(kg=kg, section=section, kg_per_cm2=None, reason=" ".join(lacks))
    late = None if section.is_before_picking else "A girth was measured only after picking began."
    found = yield_efficiency(kg, section.section_cm2)
    return TreeEfficiency(kg=kg, section=section, kg_per_cm2=found, reason=late)


def block_efficiency(
    kg_per_tree: float | None, measured: Sequence[Section], bearing_trees: int | None
) -> Efficiency:
    """Of a block: its kilograms a tree by the mean section of the trees that were measured."""
    if not measured:
        return _unknown("No trunk of the block was measured in time.")
    mean = sum(each.section_cm2 for each in measured) / len(measured)
    if kg_per_tree is None:
        return _efficiency(measured, mean, None, "Kilograms a tree are not known.")
    few = bearing_trees is not None and len(measured) < bearing_trees
    reason = f"By {len(measured)} of {bearing_trees} bearing trees." if few else None
    return _efficiency(measured, mean, yield_efficiency(kg_per_tree, mean), reason)


def _unknown(reason: str) -> Efficiency:
    return Efficiency(
        kg_per_cm2=None,
        mean_section_cm2=None,
        trees_measured=0,
        girths_from=None,
        girths_to=None,
        reason=reason,
    )


def _efficiency(
    measured: Sequence[Section], mean_cm2: float, kg_per_cm2: float | None, reason: str | None
) -> Efficiency:
    return Efficiency(
        kg_per_cm2=kg_per_cm2,
        mean_section_cm2=mean_cm2,
        trees_measured=len(measured),
        girths_from=min(each.first_on for each in measured),
        girths_to=max(each.last_on for each in measured),
        reason=reason,
    )
