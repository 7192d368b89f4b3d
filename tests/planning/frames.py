"""A co-op's rows of kilos as one pandas frame, made row by row from the records.

Every rule is written anew here, without the SQL that it is held against: days of membership, the
season of each farm and block, the co-op's grade of the day, the member's basis, estimates by mean.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from typing import Any
from uuid import UUID

import pandas as pd

from planning.compute.bases import STAND_INS, Basis
from records.calendars import calendar
from records.models import (
    CoOp,
    Farm,
    GradeMapping,
    HarvestWeight,
    Intake,
    Membership,
    SortedWeight,
)


def frame_of(co_op: CoOp) -> pd.DataFrame:
    """Rows of the days of membership, with what each can be grouped and limited by."""
    rows = [row for row in _all_rows(co_op) if _is_member(co_op, row["member"], row["day"])]
    seasons = calendar(Farm.objects.all())
    for row in rows:
        season_day = row.pop("season_day") or row["day"]
        row["season"] = seasons.season_of(row["member"], row["block"], season_day).year
    _estimate(rows)
    _choose_bases(rows, Basis(co_op.basis))
    for row in rows:
        row["week"] = row["day"] - dt.timedelta(days=row["day"].weekday())
        row["month"] = f"{row['day']:%Y-%m}"
        row["unmapped"] = None if row["co_op_grade"] else row["own_grade"]
        row["unowned"] = None if row["own_grade"] else row["co_op_grade"]
    return pd.DataFrame(rows).astype(object)


def _is_member(co_op: CoOp, farm_id: UUID, day: dt.date) -> bool:
    return any(
        each.farm_id == farm_id and each.starts_on <= day <= (each.ends_on or dt.date.max)
        for each in Membership.objects.filter(co_op=co_op)
    )


def _all_rows(co_op: CoOp) -> Iterator[dict[str, Any]]:
    yield from _weighings(co_op)
    intakes = [
        intake
        for intake in Intake.objects.select_related("cultivar")
        if intake.retired_on is None and intake.co_op_id in {co_op.pk, None}
    ]
    for intake in intakes:
        yield {**_of_intake(intake), "basis": Basis.RECEIVED, "net_g": intake.net_g}
    for line in SortedWeight.objects.select_related("co_op_grade", "grade"):
        for intake in intakes:
            if intake.pk == line.intake_id:
                yield {
                    **_of_intake(intake),
                    **_sorted_as(co_op, line, intake.received_on),
                    "basis": Basis.PACKED,
                    "net_g": line.net_g,
                }


def _row(**values: Any) -> dict[str, Any]:
    nothing: dict[str, Any] = dict.fromkeys(
        ("co_op_grade", "own_grade", "marketable", "crop", "season_day", "bare_count")
    )
    numbers = dict.fromkeys(("estimated_g", "fruit", "counted_g", "counted_fruit"), 0)
    return {**nothing, **numbers, "reason": "", **values}


def _weighings(co_op: CoOp) -> Iterator[dict[str, Any]]:
    for weight in HarvestWeight.objects.select_related("crop", "grade", "cultivar"):
        if weight.retired_on is not None:
            continue
        both = weight.net_g is not None and weight.fruit_count is not None
        containers_g = weight.estimated_from_containers_g
        bare = weight.net_g is None and containers_g is None
        crop = weight.crop
        yield _row(
            member=weight.farm_id,
            block=weight.block_id,
            cultivar=weight.cultivar_id,
            species=weight.cultivar and weight.cultivar.species_id,
            day=weight.picked_on,
            season_day=crop and (crop.bloom_began_on or crop.opened_on),
            crop=crop and crop.name,
            basis=Basis.PICKED,
            net_g=weight.net_g or 0,
            estimated_g=(containers_g or 0) if weight.net_g is None else 0,
            fruit=weight.fruit_count or 0,
            counted_g=weight.net_g if both else 0,
            counted_fruit=weight.fruit_count if both else 0,
            bare_count=weight.fruit_count if bare else None,
            **_graded(co_op, weight.grade, weight.picked_on),
        )


def _graded(co_op: CoOp, grade: Any, day: dt.date) -> dict[str, Any]:
    """As the co-op's of that day, else as the farm's own."""
    if grade is None:
        return {}
    mappings = GradeMapping.objects.filter(
        grade=grade, co_op_grade__co_op=co_op, applies_from__lte=day
    ).select_related("co_op_grade")
    found = max(mappings, key=lambda each: each.applies_from, default=None)
    if found is None:
        return {"own_grade": grade.pk, "marketable": grade.is_marketable}
    return {
        "co_op_grade": found.co_op_grade_id,
        "own_grade": grade.pk,
        "marketable": found.co_op_grade.is_marketable,
    }


def _of_intake(intake: Intake) -> dict[str, Any]:
    return _row(
        member=intake.farm_id,
        block=intake.block_id,
        cultivar=intake.cultivar_id,
        species=intake.cultivar and intake.cultivar.species_id,
        day=intake.received_on,
    )


def _sorted_as(co_op: CoOp, line: SortedWeight, day: dt.date) -> dict[str, Any]:
    if line.reject_reason:
        return {"reason": line.reject_reason, "marketable": False}
    if line.co_op_grade:
        grade = line.co_op_grade
        return {"co_op_grade": grade.pk, "marketable": grade.is_marketable}
    return _graded(co_op, line.grade, day)


def _estimate(rows: list[dict[str, Any]]) -> None:
    grams: defaultdict[tuple[Any, ...], int] = defaultdict(int)
    fruit: defaultdict[tuple[Any, ...], int] = defaultdict(int)
    for row in rows:
        for key in _mean_keys(row):
            grams[key] += row["counted_g"]
            fruit[key] += row["counted_fruit"]
    for row in rows:
        count = row.pop("bare_count")
        means = [grams[key] / fruit[key] for key in _mean_keys(row) if grams[key]]
        if count and means:
            row["estimated_g"] = round(count * means[0])


def _mean_keys(row: dict[str, Any]) -> list[tuple[Any, ...]]:
    return [(row["member"], row["season"], row["cultivar"]), (row["member"],)]


def _choose_bases(rows: list[dict[str, Any]], chosen: Basis) -> None:
    known: defaultdict[tuple[UUID, int], set[Basis]] = defaultdict(set)
    for row in rows:
        known[row["member"], row["season"]].add(row["basis"])
    for row in rows:
        there = known[row["member"], row["season"]]
        row["member_basis"] = next(basis for basis in STAND_INS[chosen] if basis in there)
