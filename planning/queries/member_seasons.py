"""What a co-op's rows are added up from, as stored: its members' rows, and its days."""

from collections import Counter, defaultdict
from dataclasses import asdict, dataclass
from typing import Any
from uuid import UUID

from planning.compute.season_summary import Basis, DayTotal, Group, Sums
from planning.models import DayRollUp, SeasonSummary
from planning.queries.portions import Portion
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberPortion:
    """A member's row of a season, or of one cultivar of it, without its days."""

    level: str
    cultivar_id: UUID | None
    portion: Portion

    @property
    def basis(self) -> Basis:
        return self.portion.group.basis


def sums_of(portion: Portion) -> dict[str, Any]:
    """What a member's row keeps for its co-op's, as JSON; `member_portions` reads it back."""
    group = portion.group
    return {
        **asdict(group.sums),
        "minutes": None if group.minutes is None else dict(sorted(group.minutes.items())),
        "reasons": dict(sorted(group.reasons.items())),
        "counts": dict(sorted(portion.counts.items())),
        "unmapped_grades": sorted(portion.unmapped_grades),
    }


COLUMNS = (
    "level",
    "cultivar_id",
    "season_year",
    "season_label",
    "starts_on",
    "ends_on",
    "is_closed",
    "basis",
    "net_g",
    "bearing_trees",
    "area_m2",
    "first_on",
    "sums",
)


def member_portions(co_op_id: UUID, year: int) -> list[MemberPortion]:
    """Of one season, in one query."""
    rows = SeasonSummary.objects.filter(
        co_op_id=co_op_id, season_year=year, member__isnull=False, sums__isnull=False
    )
    # In the order of members, so that equal rows add up alike.
    found = rows.order_by("member_id").values_list(*COLUMNS, named=True)
    return [
        MemberPortion(level=row.level, cultivar_id=row.cultivar_id, portion=_portion(row))
        for row in found
    ]


def _portion(row: Any) -> Portion:
    kept = dict(row.sums)
    minutes, reasons = kept.pop("minutes"), kept.pop("reasons")
    counts, unmapped = kept.pop("counts"), kept.pop("unmapped_grades")
    season = Season(
        year=row.season_year, label=row.season_label, starts_on=row.starts_on, ends_on=row.ends_on
    )
    group = Group(
        kind="member",
        basis=Basis(row.basis),
        days=[_all_in_one(row, season)],
        trees=[],
        bearing_trees=row.bearing_trees,
        area_m2=row.area_m2,
        is_closed=row.is_closed,
        minutes=minutes,
        reasons=reasons,
        added=Sums(**kept),
    )
    return Portion(
        group=group, season=season, counts=Counter(counts), unmapped_grades=frozenset(unmapped)
    )


def _all_in_one(row: Any, season: Season) -> DayTotal:
    """All kilos, as if of one day: by which days they came in, the co-op's roll-ups tell."""
    return DayTotal(
        day=row.first_on or season.starts_on,
        grade=None,
        marketable=None,
        net_g=row.net_g,
        estimated_g=0,
        fruit_count=0,
        net_g_with_count=0,
        count_with_weight=0,
    )


DAY_COLUMNS = (
    "basis",
    "cultivar_id",
    "day",
    "marketable",
    "reject_reason",
    "co_op_grade__code",
    "grade__code",
    "grade__farm__code",
    "net_g",
    "estimated_g",
    "fruit_count",
    "counted_g",
    "counted_fruit",
)


def co_op_days(co_op_id: UUID, year: int) -> dict[tuple[Basis, UUID | None], list[DayTotal]]:
    """A season's kilos day by day, by basis and cultivar, in one query."""
    rows = DayRollUp.objects.filter(co_op_id=co_op_id, season_year=year)
    found: dict[tuple[Basis, UUID | None], list[DayTotal]] = defaultdict(list)
    for row in rows.order_by("day").values_list(*DAY_COLUMNS, named=True):
        found[Basis(row.basis), row.cultivar_id].append(_day(row))
    return found


def _day(row: Any) -> DayTotal:
    return DayTotal(
        day=row.day,
        grade=_grade(row),
        marketable=row.marketable,
        net_g=row.net_g,
        estimated_g=row.estimated_g,
        fruit_count=row.fruit_count,
        net_g_with_count=row.counted_g,
        count_with_weight=row.counted_fruit,
    )


def _grade(row: Any) -> str | None:
    """As in `planning.queries.grades` and `intakes`."""
    if row.co_op_grade__code:
        return str(row.co_op_grade__code)
    if row.grade__code:
        return f"{row.grade__farm__code} {row.grade__code}"
    return f"rejects: {row.reject_reason}" if row.reject_reason else None
