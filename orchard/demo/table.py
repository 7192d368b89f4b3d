"""The consolidated season table, printed: every member's season, then the co-op's."""

import datetime as dt
from collections.abc import Iterator

from planning.models import SeasonSummary, SummaryLevel
from records.choices import Basis
from records.models import CoOp, Farm

HEADINGS = (
    "Farm",
    "Season",
    "kg",
    "est. kg",
    "Marketable",
    "Trees",
    "ha",
    "kg/tree",
    "t/ha",
    "First",
    "Half",
    "Last",
    "Basis",
)
WIDTHS = (30, 8, 9, 8, 11, 6, 6, 8, 6, 7, 7, 7, 16)
LEFT = {0, 1, 12}


def consolidated(co_op: CoOp) -> str:
    """One table a season year; farms whose season has no picking yet are in it, empty."""
    rows = SeasonSummary.objects.filter(co_op=co_op)
    years = rows.order_by("season_year").values_list("season_year", flat=True).distinct()
    return "\n".join(line for year in years for line in _season(co_op, year))


def _season(co_op: CoOp, year: int) -> Iterator[str]:
    rows = SeasonSummary.objects.filter(co_op=co_op, season_year=year)
    by_member = {row.member_id: row for row in rows.filter(level=SummaryLevel.MEMBER)}
    farms = Farm.objects.filter(memberships__co_op=co_op).order_by("code").distinct()
    yield f"\n{co_op.name}, season {year}, by {Basis(co_op.basis).label}"
    yield _line(HEADINGS)
    yield _line(["-" * width for width in WIDTHS])
    for farm in farms:
        yield _row(f"{farm.code} {farm.name}", by_member.get(farm.pk))
    yield _line(["-" * width for width in WIDTHS])
    for total in rows.filter(level=SummaryLevel.CO_OP).order_by("basis"):
        yield _row("Co-op", total)


def _row(name: str, row: SeasonSummary | None) -> str:
    if row is None:
        return _line([name, *["-"] * 11, ""])
    return _line(
        [
            name,
            row.season_label,
            _number(row.net_g / 1000, 1),
            _number(row.estimated_g / 1000, 1),
            "-" if row.marketable_share is None else f"{row.marketable_share:.1%}",
            _number(row.bearing_trees, 0),
            _number(row.area_m2 and row.area_m2 / 10_000, 2),
            _number(row.kg_per_tree, 1),
            _number(row.t_per_ha, 1),
            _day(row.first_on),
            _day(row.p50_on),
            _day(row.last_on),
            row.basis if row.is_closed else f"{row.basis}, to date",
        ]
    )


def _number(value: float | None, places: int) -> str:
    return "-" if value is None else f"{value:,.{places}f}"


def _day(day: dt.date | None) -> str:
    return "-" if day is None else f"{day:%d %b}"


def _line(cells: tuple[str, ...] | list[str]) -> str:
    return "  ".join(
        cell.ljust(width) if column in LEFT else cell.rjust(width)
        for column, (cell, width) in enumerate(zip(cells, WIDTHS, strict=True))
    ).rstrip()
