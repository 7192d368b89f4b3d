"""What a farm's grade is called in a table, on a day."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass
from uuid import UUID

from records.models import Grade, GradeMapping


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeName:
    """Both None for ungraded fruit. `is_mapped` is False for a grade strange to the co-op."""

    code: str | None
    marketable: bool | None
    is_mapped: bool = True


UNGRADED = GradeName(code=None, marketable=None)
Naming = Callable[[UUID | None, dt.date], GradeName]


def own_grades(farm_ids: Collection[UUID]) -> Naming:
    """Grades by their farm's own codes, in one query."""
    names = {
        grade.pk: GradeName(code=grade.code, marketable=grade.is_marketable)
        for grade in Grade.objects.filter(farm_id__in=farm_ids)
    }
    return lambda grade_id, _: names[grade_id] if grade_id else UNGRADED


def co_op_grades(co_op_id: UUID, farm_ids: Collection[UUID]) -> Naming:
    """Grades as the co-op's on that day, in two queries; unmapped ones keep farm and code."""
    strange = {
        grade.pk: GradeName(
            code=f"{grade.farm.code} {grade.code}",
            marketable=grade.is_marketable,
            is_mapped=False,
        )
        for grade in Grade.objects.filter(farm_id__in=farm_ids).select_related("farm")
    }
    mappings = _mappings(co_op_id, farm_ids)

    def name(grade_id: UUID | None, day: dt.date) -> GradeName:
        if grade_id is None:
            return UNGRADED
        applying = [to for applies_from, to in mappings[grade_id] if applies_from <= day]
        return applying[-1] if applying else strange[grade_id]

    return name


def _mappings(
    co_op_id: UUID, farm_ids: Collection[UUID]
) -> defaultdict[UUID, list[tuple[dt.date, GradeName]]]:
    """By grade, earliest first."""
    rows = GradeMapping.objects.filter(co_op_grade__co_op_id=co_op_id, farm_id__in=farm_ids)
    found = defaultdict(list)
    for row in rows.select_related("co_op_grade").order_by("applies_from", "co_op_grade__code"):
        to = GradeName(code=row.co_op_grade.code, marketable=row.co_op_grade.is_marketable)
        found[row.grade_id].append((row.applies_from, to))
    return found
