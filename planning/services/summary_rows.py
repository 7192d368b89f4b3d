"""From a portion to the row that is stored: figures as columns, with reasons and inputs."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from planning.compute.season_summary import Basis, SeasonFigures, season_figures
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.portions import Portion

YIELDS = (
    "Yields are kilos from the scale over the trees that bore on the first picking day, and"
    " over the area."
)
BY_DAY = "Fruit belongs to the season, the week and the dates of the day on which it came in."
METHODS = {
    Basis.PICKED: (
        "Kilos of the farm's own weighings. A crop belongs to the season in which its bloom"
        f" began. {YIELDS}"
    ),
    Basis.RECEIVED: f"Net kilos that packing sheds received. {BY_DAY} {YIELDS}",
    Basis.PACKED: (
        f"Kilos of intakes that have been sorted, by grade; rejects are culls. {BY_DAY} {YIELDS}"
    ),
}
COUNTED = {
    Basis.PICKED: ("weighings", "weighed", "estimated", "of_one_tree"),
    Basis.RECEIVED: ("intakes", "sorted"),
    Basis.PACKED: ("intakes", "sorted"),
}
PLAIN_FIGURES = (
    "net_g",
    "estimated_g",
    "marketable_share",
    "ungraded_share",
    "fruit_count",
    "mean_fruit_g",
    "bearing_trees",
    "area_m2",
    "kg_per_tree",
    "t_per_ha",
    "first_on",
    "p10_on",
    "p50_on",
    "p90_on",
    "last_on",
    "minutes",
    "kg_per_picking_hour",
)


def summary_row(
    level: SummaryLevel,
    portion: Portion,
    *,
    inputs: Mapping[str, Any],
    reasons: Mapping[str, str] | None = None,
    **links: Any,
) -> SeasonSummary:
    """One row, not yet stored; `links` says what it is about."""
    figures, season = season_figures(portion.group), portion.season
    return SeasonSummary(
        level=level,
        season_year=season.year,
        season_label=season.label,
        starts_on=season.starts_on,
        ends_on=season.ends_on,
        is_closed=portion.group.is_closed,
        basis=figures.basis,
        reasons={
            **figures.reasons,
            **_grade_reason(portion),
            **_unsorted_reason(portion),
            **(reasons or {}),
        },
        inputs={**{name: portion.counts[name] for name in COUNTED[figures.basis]}, **inputs},
        method=METHODS[figures.basis],
        **{name: getattr(figures, name) for name in PLAIN_FIGURES},
        **_lists(figures),
        **links,
    )


def _lists(figures: SeasonFigures) -> dict[str, Any]:
    """Grades, weeks and spread as JSON."""
    return {
        "grades": [asdict(grade) for grade in figures.grades],
        "weeks": [
            {**asdict(week), "week_starts_on": week.week_starts_on.isoformat()}
            for week in figures.weeks
        ],
        "spread": asdict(figures.spread) if figures.spread else None,
    }


def _unsorted_reason(portion: Portion) -> dict[str, str]:
    """A caution where a part of what was received has not been sorted yet."""
    intakes, done = portion.counts["intakes"], portion.counts["sorted"]
    if portion.group.basis is not Basis.PACKED or done == intakes:
        return {}
    return {"net_g": f"net kilos: only the {done} of {intakes} intakes that have been sorted"}


def _grade_reason(portion: Portion) -> dict[str, str]:
    if not portion.unmapped_grades:
        return {}
    names = ", ".join(sorted(portion.unmapped_grades))
    return {"grades": f"grades: not mapped to the co-op's grades: {names}"}
