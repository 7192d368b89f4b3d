"""Seasons as days from and to, for SQL to join by range: one definition, that of `records.seasons`.

A place is a farm, or a block where any farm asked for has a block with a season start of its own.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from uuid import UUID

from records.calendars import Calendar, Starts
from records.models import Block
from records.seasons import Season, season_span


@dataclass(frozen=True, kw_only=True)
class SeasonSpans:
    """The seasons of some years at every place; by `starts`, which many places share."""

    places: Mapping[UUID, Starts]
    years: tuple[int, ...]
    by_block: bool

    @cached_property
    def of_starts(self) -> dict[Starts, list[Season]]:
        return {
            starts: [season_span(year, starts) for year in self.years]
            for starts in set(self.places.values())
        }

    @property
    def common(self) -> list[Season] | None:
        """The seasons, where every place has the same; else None."""
        found = list(self.of_starts.values())
        return found[0] if len(found) == 1 else None

    @property
    def first_on(self) -> dt.date:
        return min((season.starts_on for season in self._all()), default=dt.date.max)

    @property
    def last_on(self) -> dt.date:
        return max((season.ends_on for season in self._all()), default=dt.date.min)

    @cached_property
    def calendars(self) -> list[Starts]:
        return list(self.of_starts)

    def arrays(self) -> dict[str, list[Any]]:
        """The calendar of each place, and the seasons of each calendar, as parameters."""
        number = {starts: n for n, starts in enumerate(self.calendars)}
        lines = [
            (number[starts], season)
            for starts, seasons in self.of_starts.items()
            for season in seasons
        ]
        return {
            "season_places": list(self.places),
            "place_calendars": [number[starts] for starts in self.places.values()],
            "season_calendars": [calendar for calendar, _ in lines],
            "season_years": [season.year for _, season in lines],
            "season_firsts": [season.starts_on for _, season in lines],
            "season_lasts": [season.ends_on for _, season in lines],
        }

    def by_calendar(self) -> Iterator[tuple[list[UUID], Season]]:
        """Places of one calendar with their season, where only one year is asked for."""
        together: dict[Starts, list[UUID]] = defaultdict(list)
        for place, starts in self.places.items():
            together[starts].append(place)
        return ((places, self.of_starts[starts][0]) for starts, places in together.items())

    def _all(self) -> Iterable[Season]:
        return (season for seasons in self.of_starts.values() for season in seasons)


def season_spans(
    seasons: Calendar, farm_ids: Collection[UUID], years: Iterable[int]
) -> SeasonSpans:
    """Those of farms; one query, and only where a block has a season start of its own."""
    places = {farm_id: seasons.starts(farm_id, None) for farm_id in farm_ids}
    by_block = bool(seasons.of_blocks)
    if by_block:
        blocks = Block.objects.filter(farm_id__in=farm_ids).values_list("farm_id", "pk")
        places |= {block_id: seasons.starts(farm_id, block_id) for farm_id, block_id in blocks}
    return SeasonSpans(places=places, years=tuple(sorted(set(years))), by_block=by_block)
