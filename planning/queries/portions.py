"""The fruit and trees behind one row of figures, and how several become one."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planning.compute.season_summary import Basis, Group, roll_up
from planning.queries.intakes import Received
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


def nothing(group: Group, season: Season) -> Portion:
    """A group that nothing went into."""
    return Portion(group=group, season=season, counts=Counter(), unmapped_grades=frozenset())


def by_intakes(ground: Portion, basis: Basis, fruit: Sequence[Received]) -> Portion:
    """The same trees and work with the kilos of a packing shed in place of the weighings'."""
    days = [day for received in fruit for day in received.days[basis]]
    strange = [received.unmapped_grades for received in fruit]
    return replace(
        ground,
        group=replace(ground.group, basis=basis, days=days, trees=[]),
        counts=sum((received.counts for received in fruit), Counter()),
        unmapped_grades=frozenset().union(*strange) if basis is Basis.PACKED else frozenset(),
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
