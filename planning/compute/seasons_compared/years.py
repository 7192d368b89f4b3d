"""Year on year: each season against the one before it and the mean of the earlier ones.

Only complete seasons are compared: over, and twelve months long. A season that is missing or
incomplete breaks the pair; nothing is bridged. Change in per cent is 100 (a - b) / b of measured
kilos; shares differ in points, and days by how far into its season each fell.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from planning.compute.seasons_compared.bearing import alternate_bearing
from planning.compute.seasons_compared.values import Change, Compared, ComparisonError, SeasonRow

FULL_YEAR = range(360, 373)  # days; a season start that moved leaves a shorter or longer one


def compare(rows: Iterable[SeasonRow]) -> list[Compared]:
    """A series in the order of its seasons, each compared with those before it."""
    ordered = sorted(rows, key=lambda row: row.year)
    years = [row.year for row in ordered]
    if len(set(years)) < len(years):
        raise ComparisonError("a season is there twice")
    return [_compared(row, ordered[:index]) for index, row in enumerate(ordered)]


def is_complete(row: SeasonRow) -> bool:
    return row.is_closed and (row.ends_on - row.starts_on).days + 1 in FULL_YEAR


def _compared(row: SeasonRow, earlier: Sequence[SeasonRow]) -> Compared:
    full = [each for each in earlier if is_complete(each)]
    before = next((each for each in full if each.year == row.year - 1), None)
    counts = is_complete(row)
    reasons = _reasons(row, earlier, before, full)
    kilos = {each.year: each.net_kg for each in [*full, *([row] if counts else [])]}
    return Compared(
        row=row,
        is_complete=counts,
        before=_change(row, [before]) if counts and before else Change(),
        mean=_change(row, full) if counts and full else Change(),
        mean_seasons=len(full) if counts else 0,
        bearing=alternate_bearing(kilos),
        reasons=reasons,
    )


# What a change is called, of which figure, and how it is told.


@dataclass(frozen=True, slots=True)
class _Measure:
    of: Callable[[SeasonRow], float | None]
    told: Callable[[float, float], float | None]


def _percent(value: float, base: float) -> float | None:
    return 100 * (value - base) / base if base else None


def _points(value: float, base: float) -> float:
    return 100 * (value - base)


def _days(value: float, base: float) -> float:
    return value - base


MEASURES = {
    "net_kg_percent": _Measure(lambda row: row.net_kg, _percent),
    "kg_per_tree_percent": _Measure(lambda row: row.kg_per_tree, _percent),
    "t_per_ha_percent": _Measure(lambda row: row.t_per_ha, _percent),
    "marketable_share_points": _Measure(lambda row: row.marketable_share, _points),
    "first_days_later": _Measure(lambda row: row.days_into(row.first_on), _days),
    "p50_days_later": _Measure(lambda row: row.days_into(row.p50_on), _days),
    "last_days_later": _Measure(lambda row: row.days_into(row.last_on), _days),
}


def _change(row: SeasonRow, others: Sequence[SeasonRow]) -> Change:
    """Against the mean of the others, of each figure over those that have it."""
    return Change(**{name: _told(measure, row, others) for name, measure in MEASURES.items()})


def _told(measure: _Measure, row: SeasonRow, others: Sequence[SeasonRow]) -> float | None:
    value = measure.of(row)
    known = [found for found in map(measure.of, others) if found is not None]
    if value is None or not known:
        return None
    return measure.told(value, sum(known) / len(known))


# Why -----------------------------------------------------------------------------------------


def _reasons(
    row: SeasonRow,
    earlier: Sequence[SeasonRow],
    before: SeasonRow | None,
    full: Sequence[SeasonRow],
) -> dict[str, str]:
    reasons = {}
    if not row.is_closed:
        reasons["season"] = f"Season {row.label} is not over: it is compared with none."
    elif not is_complete(row):
        reasons["season"] = f"Season {row.label} is not twelve months long."
    elif before is None:
        reasons["before"] = _no_before(row, earlier)
    elif not before.net_g:
        reasons["before"] = f"Nothing was weighed in {before.label}, so there is no per cent."
    if is_complete(row) and not full:
        reasons["mean"] = "There is no complete season before this one."
    if row.estimated_g:
        reasons["estimated"] = f"{row.estimated_g / 1000:g} kg were estimated and stand apart."
    return reasons


def _no_before(row: SeasonRow, earlier: Sequence[SeasonRow]) -> str:
    last = next((each for each in earlier if each.year == row.year - 1), None)
    if last is None:
        return f"Of the season before {row.label} nothing is recorded."
    return f"Season {last.label} is not complete."
