"""Kilos as one relation in SQL: of farm weighings, of intakes and of sorted intakes.

A row is a weighing, an intake or a line of a sorted intake. Its `basis` says which; kilos of
different bases may be the same fruit and are never added together. `net_g` is what the scale
said; `estimated_g` is of what met no scale: containers by their usual weight, else fruit by the
farm's own mean fruit weight of the season and cultivar (of the farm, where that is not known).

A weighing's season is that of `coalesce(crop.bloom_began_on, crop.opened_on, picked_on)` on its
block, an intake's that of `received_on`; named by the year in which each farm's own season starts.
A co-op sees the rows dated within a membership, and intakes of its own or of a member's own shed.

`co_op_grade_id` is what a grade counts as on that day, None for one that is not mapped;
`marketable` is None for ungraded fruit and False for rejects, which have a `reject_reason`.
`counted_g` and `counted_fruit` are of weighings that have both a weight and a count. `row_id` is
the weighing, or the intake. `member_basis` is the basis by which the farm's season goes.
"""

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db.models import Count, QuerySet

from planning.compute.bases import Basis
from planning.queries.fruit_means import fruit_means
from planning.queries.kilo_relations import (
    BY_WEIGHINGS,
    COLUMNS,
    MemberBases,
    Question,
    Relation,
    Whose,
    Window,
)
from planning.queries.member_bases import member_bases
from records.calendars import calendar
from records.models import CoOp, Farm, GradeMapping, Membership

__all__ = [
    "COLUMNS",
    "MemberBases",
    "Relation",
    "Whose",
    "Window",
    "bases_of",
    "kilos_of",
    "whose_of",
    "whose_own",
]


def whose_of(co_op: CoOp, members: Collection[UUID] | None = None) -> Whose:
    """A co-op's members, past ones included; or some of them."""
    joined = Membership.objects.filter(co_op=co_op)
    if members is not None:
        joined = joined.filter(farm_id__in=members)
    mapped = GradeMapping.objects.filter(co_op_grade__co_op=co_op).order_by()
    twice = mapped.values("grade").annotate(number=Count("pk")).filter(number__gt=1)
    return _whose(
        Farm.objects.filter(pk__in=joined.values("farm_id")),
        co_op_id=co_op.pk,
        chosen=Basis(co_op.basis),
        memberships=tuple(joined.values_list("farm_id", "starts_on", "ends_on")),
        maps_anew=twice.exists(),
    )


def whose_own(farm_ids: Collection[UUID]) -> Whose:
    """Farms by themselves, whoever they share with."""
    return _whose(Farm.objects.filter(pk__in=farm_ids), co_op_id=None, chosen=Basis.PICKED)


def _whose(farms: QuerySet[Farm], **terms: Any) -> Whose:
    found = list(farms.order_by("code").only("pk", "season_start_month"))
    ids: Any = tuple(farm.pk for farm in found)
    return Whose(farm_ids=ids, seasons=calendar(found), **terms)


def kilos_of(
    whose: Whose, window: Window, columns: Iterable[str], bases: MemberBases | None = None
) -> Relation:
    """Kilos with these of `COLUMNS`, in that order, and no join that none of them needs.

    `bases` are those of `bases_of`, where the caller knows them already.
    """
    asked = set(columns)
    if strange := asked - set(COLUMNS):
        raise ValueError(f"kilos have no {', '.join(sorted(strange))}")
    if bases is None:
        bases = bases_of(whose, window) if "member_basis" in asked else BY_WEIGHINGS
    weighed = Basis.PICKED in window.bases
    return Question(
        whose=whose,
        window=window,
        columns=tuple(name for name in COLUMNS if name in asked),
        bases=bases,
        means=fruit_means(whose) if weighed and "estimated_g" in asked else None,
    ).relation()


def bases_of(whose: Whose, window: Window) -> MemberBases:
    """By which basis each member's season goes, of all seasons that a window can touch."""
    if window.years is not None or window.first_on is None or window.last_on is None:
        return member_bases(whose, window.years)
    # A weighing's crop bloomed within three years of its picking, whatever crop somebody chose.
    return member_bases(whose, range(window.first_on.year - 3, window.last_on.year + 4))
