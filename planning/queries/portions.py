"""The fruit and trees behind one row of figures, and how several become one."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planning.compute.season_summary import Group, roll_up
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """A group of one season, with the counts of what went into it."""

    group: Group
    season: Season
    counts: Counter[str]
    unmapped_grades: frozenset[str]


def join(portions: Sequence[Portion], *, kind: str) -> Portion:
    """Portions that share no ground as one of `kind`; its season spans all of theirs."""
    groups = [portion.group for portion in portions]
    counts: Counter[str] = Counter()
    for portion in portions:
        counts.update(portion.counts)
    return Portion(
        group=roll_up(groups, kind=kind) if len(groups) > 1 else replace(groups[0], kind=kind),
        season=_span([portion.season for portion in portions]),
        counts=counts,
        unmapped_grades=frozenset().union(*(portion.unmapped_grades for portion in portions)),
    )


def _span(seasons: Sequence[Season]) -> Season:
    """Named as all of them are, else by the year in which they start."""
    labels = {season.label for season in seasons}
    year = seasons[0].year
    return Season(
        year=year,
        label=labels.pop() if len(labels) == 1 else str(year),
        starts_on=min(season.starts_on for season in seasons),
        ends_on=max(season.ends_on for season in seasons),
    )
