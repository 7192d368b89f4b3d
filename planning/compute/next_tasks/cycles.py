"""The crops of a block's seasons, and which days' records are whose.

Records that name no crop go by their date: from a season's first day they are the main crop's,
from the opening of a further crop they are that one's. A season should not start within a bloom.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from planning.compute.next_tasks.values import Cycle

MAIN = "main"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonDays:
    """First and last day of the season that starts in `year`."""

    year: int
    starts_on: date
    ends_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class CropFacts:
    """A crop on record; `season_year` is that of its bloom or, until bloom, of its opening."""

    crop: str
    name: str
    season_year: int
    opened_on: date
    picking_ends_on: date | None = None


def cycles_of(seasons: Sequence[SeasonDays], crops: Sequence[CropFacts]) -> tuple[Cycle, ...]:
    """The main crop of each season, on record or not, and every further crop on record."""
    by_season: dict[int, list[CropFacts]] = defaultdict(list)
    for crop in sorted(crops, key=lambda crop: (crop.opened_on, crop.crop)):
        by_season[crop.season_year].append(crop)
    cycles = [
        cycle for season in seasons for cycle in _season_cycles(season, by_season[season.year])
    ]
    return _end_to_end(
        sorted(cycles, key=lambda cycle: (cycle.starts_on, cycle.windows_until is None))
    )


def _season_cycles(season: SeasonDays, crops: Sequence[CropFacts]) -> Iterator[Cycle]:
    main = next((crop for crop in crops if crop.name == MAIN), None)
    yield Cycle(
        season_year=season.year,
        crop=MAIN,
        crop_id=main.crop if main else None,
        starts_on=season.starts_on,
        ends_on=season.ends_on,
        windows_until=season.ends_on,
        picking_ends_on=main.picking_ends_on if main else None,
    )
    names = {MAIN}
    for crop in crops:
        if crop is not main:
            yield _further(season, crop, is_named_apart=crop.name not in names)
            names.add(crop.name)


def _further(season: SeasonDays, crop: CropFacts, *, is_named_apart: bool) -> Cycle:
    return Cycle(
        season_year=season.year,
        crop=crop.name if is_named_apart else f"{crop.name} of {crop.opened_on}",
        crop_id=crop.crop,
        starts_on=max(crop.opened_on, season.starts_on),
        ends_on=season.ends_on,
        windows_until=None,
        picking_ends_on=crop.picking_ends_on,
    )


def _end_to_end(cycles: Sequence[Cycle]) -> tuple[Cycle, ...]:
    """Each ends the day before the next one starts, at the latest."""
    ended = [
        replace(cycle, ends_on=min(cycle.ends_on, after.starts_on - timedelta(days=1)))
        for cycle, after in pairwise(cycles)
    ]
    return (*ended, *cycles[-1:])
