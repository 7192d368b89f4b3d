"""What was recorded, counted and forecast of the blooms of a farm's blocks, loaded at once."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from planning.choices import StageAhead
from planning.compute.figures import Figure
from planning.compute.labour import Hours, OpenedSoFar
from planning.queries.block_seasons import MAIN_CROP
from planning.queries.figures import FarmFigures, figures_of
from planning.queries.plantings import Planted, planted_blocks
from planning.queries.sessions import brushing_hours
from planning.queries.stage_forecasts import StageDate, stages_ahead
from planning.queries.stands import Source, StandKey, stands
from records.choices import BY_HAND
from records.models import Block, Cultivar, Farm, GrowthStage, PollinationRound

# BBCH 61-68 as tenths of the flowers opened so far (general scale, value from memory).
COUNTED = tuple(str(code) for code in range(61, 69))
NEEDED = ("visits", "days-between-visits", "receptive-days")
USED = (
    *NEEDED,
    *("middle-half-share", "bloom-days", "flowers-per-tree", "target-fruit-per-tree"),
    *("expected-set", "expected-retention", "minutes-per-tree-visit", "flowers-per-hour"),
    *("walk-minutes-per-tree", "donors-per-flower", "gather-minutes-per-donor"),
    "bag-minutes-per-flower",
)
Figures = Mapping[str, Figure]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """Flowers pollinated by hand on one day."""

    on: dt.date
    flowers: int
    minutes: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BloomAhead:
    """A crop's bloom as it was seen or is forecast; stages are None where nothing is stored."""

    crop_name: str
    crop_id: UUID | None = None
    first: StageDate | None = None
    end: StageDate | None = None

    @property
    def first_on(self) -> dt.date | None:
        return self.first.on_date if self.first else None

    @property
    def first_is_seen(self) -> bool:
        return self.first is not None and self.first.observed_on is not None

    @property
    def end_is_seen(self) -> bool:
        return self.end is not None and self.end.observed_on is not None

    def end_on(self, figures: Figures) -> dt.date | None:
        """Seen or forecast; else so many days from first bloom as the species blooms."""
        if self.end is not None and self.end.on_date is not None:
            return self.end.on_date
        days = value_of(figures, "bloom-days")
        if self.first_on is None or days is None:
            return None
        return self.first_on + dt.timedelta(days=round(days) - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourFacts:
    """By block, and hours by species. `trees` bear; None where the records name no plants."""

    blooms: Mapping[UUID, Sequence[BloomAhead]]
    planted: Mapping[UUID, Planted]
    trees: Mapping[UUID, int | None]
    figures: Mapping[UUID, Figures]
    counts: Mapping[UUID, Sequence[OpenedSoFar]]
    rounds: Mapping[UUID, Sequence[Round]]
    hours: Mapping[UUID, Hours]


def value_of(figures: Figures, name: str) -> float | None:
    figure = figures.get(name)
    return figure.value if figure else None


def labour_facts(farm: Farm, blocks: Sequence[Block], year: int, today: dt.date) -> LabourFacts:
    """Everything of one season of some blocks, in eighteen queries."""
    ids = [block.pk for block in blocks]
    planted = planted_blocks(blocks, today)
    blooms = _blooms(stages_ahead(farm.pk), ids, year)
    in_force = figures_of(farm.pk)
    figures = {pk: _figures(in_force, found) for pk, found in planted.items()}
    first_on = {pk: _first_on(blooms[pk]) or today for pk in ids}
    since = min(first_on.values(), default=today)
    where: dict[str, Any] = {"block_id__in": ids, "retired_on": None}
    return LabourFacts(
        blooms=blooms,
        planted=planted,
        trees=_bearing(planted, first_on),
        figures=figures,
        counts=_counts(where, since),
        rounds=_rounds(where, since),
        hours=_hours(farm, blooms, planted, figures),
    )


def _first_on(blooms: Sequence[BloomAhead]) -> dt.date | None:
    return min((bloom.first_on for bloom in blooms if bloom.first_on), default=None)


def _figures(farm: FarmFigures, planted: Planted) -> dict[str, Figure]:
    """Of the block's cultivar where it has one alone, else of its species."""
    alone = planted.cultivars[0].pk if len(planted.cultivars) == 1 else None
    return {name: farm.figure(planted.main.code, name, alone) for name in USED}


def _blooms(
    ahead: Mapping[UUID, Sequence[StageDate]], ids: Collection[UUID], year: int
) -> dict[UUID, list[BloomAhead]]:
    """A block without a stored forecast has a main crop of which nothing is known."""
    return {
        block_id: [
            BloomAhead(
                crop_name=name,
                crop_id=crop_id,
                first=stages.get(StageAhead.FIRST_BLOOM),
                end=stages.get(StageAhead.END_OF_BLOOM),
            )
            for (name, crop_id), stages in _by_crop(ahead.get(block_id, ()), year).items()
        ]
        or [BloomAhead(crop_name=MAIN_CROP)]
        for block_id in ids
    }


def _by_crop(
    stages: Sequence[StageDate], year: int
) -> dict[tuple[str, UUID | None], dict[str, StageDate]]:
    found: dict[tuple[str, UUID | None], dict[str, StageDate]] = defaultdict(dict)
    for stage in stages:
        if stage.season_year == year:
            found[stage.crop_name, stage.crop_id][stage.stage] = stage
    return found


def _bearing(
    planted: Mapping[UUID, Planted], days: Mapping[UUID, dt.date]
) -> dict[UUID, int | None]:
    """Trees of the block's main species, or of unknown cultivar, that bear on its first bloom."""
    keys = [StandKey(block_id=pk, season_year=day.year, day=day) for pk, day in days.items()]
    found = {place[0]: stand for place, stand in stands(keys).items()}
    cultivars = {pk for stand in found.values() for pk in stand.by_cultivar if pk}
    species_of = dict(Cultivar.objects.filter(pk__in=cultivars).values_list("pk", "species_id"))
    bearing: dict[UUID, int | None] = dict.fromkeys(days)
    for pk, stand in found.items():
        main = planted[pk].main.pk if pk in planted else None
        if stand.source is not Source.NOTHING:
            bearing[pk] = sum(
                trees.bearing
                for cultivar, trees in stand.by_cultivar.items()
                if cultivar is None or species_of.get(cultivar) == main
            )
    return bearing


def _counts(where: dict[str, Any], since: dt.date) -> dict[UUID, list[OpenedSoFar]]:
    """Shares of the flowers opened, as seen on at least half of the trees looked at."""
    rows = GrowthStage.objects.filter(observed_on__gte=since, bbch__in=COUNTED, tree=None, **where)
    found: dict[UUID, list[OpenedSoFar]] = defaultdict(list)
    columns = ("block_id", "observed_on", "bbch", "trees_seen", "trees_looked_at")
    for block_id, on, bbch, seen, of in rows.order_by("observed_on").values_list(*columns):
        if seen * 2 >= of:
            found[block_id].append(OpenedSoFar(on=on, share=int(bbch[1]) / 10))
    return found


def _rounds(where: dict[str, Any], since: dt.date) -> dict[UUID, list[Round]]:
    rows = PollinationRound.objects.filter(
        pollinated_on__gte=since, method__in=BY_HAND, **where
    ).order_by("pollinated_on", "pk")
    found: dict[UUID, list[Round]] = defaultdict(list)
    columns = ("block_id", "pollinated_on", "flowers", "minutes")
    for block_id, on, flowers, minutes in rows.values_list(*columns):
        found[block_id].append(Round(on=on, flowers=flowers, minutes=minutes))
    return found


def _hours(
    farm: Farm,
    blooms: Mapping[UUID, Sequence[BloomAhead]],
    planted: Mapping[UUID, Planted],
    figures: Mapping[UUID, Figures],
) -> dict[UUID, Hours]:
    """Brushing hours of each species, over the blooms of all blocks."""
    known = [(pk, bloom) for pk, found in blooms.items() for bloom in found if pk in planted]
    firsts = [bloom.first_on for _, bloom in known if bloom.first_on]
    ends = [end for pk, bloom in known if (end := bloom.end_on(figures[pk]))]
    if not firsts or not ends or max(ends) < min(firsts):
        return {}
    species = {planted[pk].main.pk for pk, _ in known}
    return brushing_hours(farm, species, min(firsts), max(ends))
