"""From the plain values of one group to its figures."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import sqrt

from planning.compute.season_summary.reasons import reasons_of
from planning.compute.season_summary.values import (
    DayTotal,
    GradeKilos,
    Group,
    SeasonFigures,
    Sums,
    TreeSpread,
    WeekKilos,
)


def season_figures(group: Group) -> SeasonFigures:
    """The figures of one group."""
    days, net_g, by_day = group.days, group.net_g, _grams_by_day(group.days)
    days_with_fruit = sorted({day.day for day in days if day.has_fruit})
    return SeasonFigures(
        basis=group.basis,
        to_date=not group.is_closed,
        net_g=net_g,
        estimated_g=sum(day.estimated_g for day in days),
        grades=_grades(days),
        marketable_share=_marketable_share(group),
        ungraded_share=_share(net_g - group.graded_g, net_g),
        fruit_count=sum(day.fruit_count for day in days) or None,
        mean_fruit_g=group.mean_fruit_g,
        bearing_trees=group.bearing_trees,
        area_m2=group.area_m2,
        kg_per_tree=_kg_per_tree(net_g, group.bearing_trees),
        t_per_ha=_t_per_ha(net_g, group.area_m2),
        first_on=days_with_fruit[0] if days_with_fruit else None,
        p10_on=_percentile_on(by_day, 10),
        p50_on=_percentile_on(by_day, 50),
        p90_on=_percentile_on(by_day, 90),
        last_on=days_with_fruit[-1] if days_with_fruit else None,
        weeks=_weeks(days, days_with_fruit),
        spread=_spread(group.sums),
        minutes=dict(sorted(group.minutes.items())) if group.minutes else None,
        kg_per_picking_hour=group.kg_per_picking_hour,
        reasons=reasons_of(group),
    )


def _kg(grams: int) -> float:
    return grams / 1000


def _share(part_g: int, whole_g: int) -> float | None:
    return part_g / whole_g if whole_g else None


def _grams_by_day(days: Iterable[DayTotal]) -> list[tuple[date, int]]:
    grams: Counter[date] = Counter()
    for day in days:
        grams[day.day] += day.net_g
    return sorted(grams.items())


def _grades(days: Iterable[DayTotal]) -> tuple[GradeKilos, ...]:
    """Marketable grades, culls, then ungraded fruit, each by code."""
    net_g: Counter[tuple[str | None, bool | None]] = Counter()
    estimate_g: Counter[tuple[str | None, bool | None]] = Counter()
    for day in days:
        net_g[day.grade, day.marketable] += day.net_g
        estimate_g[day.grade, day.marketable] += day.estimated_g
    order = sorted(net_g, key=lambda key: (key[0] is None, not key[1], key[0] or ""))
    return tuple(
        GradeKilos(
            grade=grade,
            marketable=marketable,
            net_kg=_kg(net_g[grade, marketable]),
            estimated_kg=_kg(estimate_g[grade, marketable]),
        )
        for grade, marketable in order
    )


def _marketable_share(group: Group) -> float | None:
    marketable_g = sum(day.net_g for day in group.days if day.marketable)
    return _share(marketable_g, group.graded_g)


def _kg_per_tree(net_g: int, bearing_trees: int | None) -> float | None:
    return _kg(net_g) / bearing_trees if net_g and bearing_trees else None


def _t_per_ha(net_g: int, area_m2: float | None) -> float | None:
    return _kg(net_g) / area_m2 * 10 if net_g and area_m2 else None


def _percentile_on(by_day: Sequence[tuple[date, int]], percent: int) -> date | None:
    """The first day whose running total reaches `percent` of the total, in whole numbers."""
    total_g = sum(grams for _, grams in by_day)
    running_g = 0
    for day, grams in by_day:
        running_g += grams
        if total_g and running_g * 100 >= total_g * percent:
            return day
    return None


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _weeks(days: Iterable[DayTotal], with_fruit: Sequence[date]) -> tuple[WeekKilos, ...]:
    """Every week from the first day with fruit to the last."""
    if not with_fruit:
        return ()
    net_g: Counter[date] = Counter()
    estimate_g: Counter[date] = Counter()
    for day in days:
        net_g[_monday(day.day)] += day.net_g
        estimate_g[_monday(day.day)] += day.estimated_g
    first, last = _monday(with_fruit[0]), _monday(with_fruit[-1])
    weeks = []
    running_g = 0
    for monday in (first + timedelta(days=n) for n in range(0, (last - first).days + 1, 7)):
        running_g += net_g[monday]
        weeks.append(
            WeekKilos(
                week_starts_on=monday,
                net_kg=_kg(net_g[monday]),
                estimated_kg=_kg(estimate_g[monday]),
                cumulative_kg=_kg(running_g),
            )
        )
    return tuple(weeks)


def _spread(sums: Sums) -> TreeSpread | None:
    if not sums.trees:
        return None
    mean_kg, sd_kg = _kg(sums.trees_g) / sums.trees, _sample_sd_kg(sums)
    return TreeSpread(
        n=sums.trees,
        net_kg=_kg(sums.trees_g),
        mean_kg=mean_kg,
        sd_kg=sd_kg,
        cv=sd_kg / mean_kg if sd_kg is not None and mean_kg else None,
    )


def _sample_sd_kg(sums: Sums) -> float | None:
    n = sums.trees
    if n < 2:
        return None
    # Sums of whole grams are exact, so the textbook one-pass formula loses no digits here.
    squares = n * sums.trees_g_squared - sums.trees_g**2
    return sqrt(squares / (n * (n - 1))) / 1000
