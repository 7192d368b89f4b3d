"""Every crop of a farm's blocks with the stages seen in it, as stage forecasts take them.

The block as a whole goes by what was seen on it and on trees of its main cultivar. A further
cultivar has forecasts of its own once stages were seen on trees of it.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import Max, Min
from django.db.models.functions import TruncMonth

from planning.compute.next_tasks import CropFacts, SeasonDays, cycles_of
from planning.compute.next_tasks.values import Cycle as TaskCycle
from planning.compute.stage_forecasts import (
    CropDays,
    Cycle,
    Done,
    Recorded,
    Seen,
    Span,
    Stage,
    cycle_of,
)
from planning.queries.plantings import Planted
from records.calendars import Calendar, calendar
from records.choices import BY_HAND, CropOpening, TaskKind
from records.models import (
    Block,
    Crop,
    Farm,
    GrowthStage,
    HarvestWeight,
    PollinationRound,
    Species,
    TaskLog,
)
from records.seasons import Season

MAIN = "main"
HISTORY = 10  # earlier seasons that are looked at
OPENINGS = {TaskKind.PRUNING: "pruning", TaskKind.LEAF_STRIPPING: "leaf stripping"}
Cultivars = UUID | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockCrop:
    """A crop, and the earlier crops of its name; of the main crop where it has none."""

    season: Season
    crop_id: UUID | None
    cycle: Cycle
    past: Sequence[Cycle]
    comes_yearly: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A block as a whole, or one further cultivar on it, with its crops in order of date."""

    block: Block
    species: Species | None
    cultivar_id: UUID | None
    crops: Sequence[BlockCrop]
    season_year: int


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """What was recorded of a block, each with the cultivar that it is of, if that is known."""

    stages: list[tuple[Cultivars, Seen]] = field(default_factory=list)
    openings: list[Done] = field(default_factory=list)
    pollinations: list[tuple[Cultivars, Span]] = field(default_factory=list)
    pickings: list[tuple[Cultivars, Span]] = field(default_factory=list)
    of_trees: set[UUID] = field(default_factory=set)

    def of(self, cultivars: Iterable[Cultivars] | None) -> Recorded:
        """The records of some cultivars; of all where None is given."""
        wanted = None if cultivars is None else set(cultivars)

        def kept(rows: Iterable[tuple[Cultivars, Any]]) -> tuple[Any, ...]:
            return tuple(row for cultivar, row in rows if wanted is None or cultivar in wanted)

        return Recorded(
            stages=kept(self.stages),
            openings=tuple(self.openings),
            pollinations=kept(self.pollinations),
            pickings=kept(self.pickings),
        )


def subjects(
    farm: Farm, blocks: Sequence[Block], planted: Mapping[UUID, Planted], today: dt.date
) -> list[Subject]:
    """What is forecast for some blocks, in six queries."""
    ids = [block.pk for block in blocks]
    where: dict[str, Any] = {"farm_id": farm.pk, "block_id__in": ids}
    seasons_of = calendar([farm])
    since = dt.date(today.year - HISTORY - 1, 1, 1)
    sheets = _sheets(where, since)
    crops: dict[UUID, list[Crop]] = defaultdict(list)
    for crop in Crop.objects.filter(**where).order_by("opened_on", "pk"):
        crops[crop.block_id].append(crop)
    seasons = _Seasons(calendar=seasons_of)
    return [
        subject
        for block in blocks
        for subject in _of_block(
            block, planted.get(block.pk), crops[block.pk], sheets[block.pk], seasons, today
        )
    ]


def _of_block(
    block: Block,
    planted: Planted | None,
    crops: Sequence[Crop],
    sheet: _Sheet,
    seasons: "_Seasons",
    today: dt.date,
) -> Iterator[Subject]:
    spans = seasons.around(block, today)
    days = _crop_days(block, crops, spans, seasons)
    for cultivar_id, species, records in _parts(planted, sheet):
        yield Subject(
            block=block,
            species=species,
            cultivar_id=cultivar_id,
            crops=_block_crops(days, records, spans),
            season_year=spans[HISTORY].year,
        )


def _parts(
    planted: Planted | None, sheet: _Sheet
) -> Iterator[tuple[UUID | None, Species | None, Recorded]]:
    if planted is None or len(planted.cultivars) < 2:
        yield None, planted.main if planted else None, sheet.of(None)
        return
    main = next(each for each in planted.cultivars if each.species_id == planted.main.pk)
    yield None, planted.main, sheet.of((None, main.pk))
    for cultivar in planted.cultivars:
        if cultivar != main and cultivar.pk in sheet.of_trees:
            yield cultivar.pk, cultivar.species, sheet.of((cultivar.pk,))


# Seasons and crops -------------------------------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class _Seasons:
    """A farm's seasons; most blocks have those of the farm, which are made once."""

    calendar: Calendar
    _known: dict[tuple[UUID, int], list[Season]] = field(default_factory=dict)

    def around(self, block: Block, today: dt.date) -> list[Season]:
        """From ten seasons ago to the next one."""
        year = self.of(block, today).year
        owner = block.pk if block.pk in self.calendar.of_blocks else block.farm_id
        if (owner, year) not in self._known:
            self._known[owner, year] = [
                self.calendar.season_span(block.farm_id, block.pk, each)
                for each in range(year - HISTORY, year + 2)
            ]
        return self._known[owner, year]

    def of(self, block: Block, day: dt.date) -> Season:
        own = block.pk if block.pk in self.calendar.of_blocks else None
        return self.calendar.season_of(block.farm_id, own, day)


def _crop_days(
    block: Block, crops: Sequence[Crop], spans: Sequence[Season], seasons: _Seasons
) -> list[CropDays]:
    facts = [
        CropFacts(
            crop=str(crop.pk),
            name=crop.name,
            season_year=seasons.of(block, crop.bloom_began_on or crop.opened_on).year,
            opened_on=crop.opened_on,
            picking_ends_on=crop.picking_ends_on,
        )
        for crop in crops
    ]
    days = [
        SeasonDays(year=span.year, starts_on=span.starts_on, ends_on=span.ends_on) for span in spans
    ]
    by_id = {str(crop.pk): crop for crop in crops}
    return [_days_of(cycle, by_id.get(cycle.crop_id or "")) for cycle in cycles_of(days, facts)]


def _days_of(cycle: TaskCycle, crop: Crop | None) -> CropDays:
    told = OPENINGS.get(TaskKind(crop.opened_by), "") if crop and _is_work(crop) else ""
    return CropDays(
        season_year=cycle.season_year,
        crop=cycle.crop,
        crop_id=cycle.crop_id,
        starts_on=cycle.starts_on,
        ends_on=cycle.ends_on,
        opened_on=crop.opened_on if crop else None,
        opened_by=told,
        bloom_began_on=crop.bloom_began_on if crop else None,
        picking_ends_on=crop.picking_ends_on if crop else None,
    )


def _is_work(crop: Crop) -> bool:
    return crop.opened_by != CropOpening.FIRST_BLOOM


def _block_crops(
    days: Sequence[CropDays], records: Recorded, spans: Sequence[Season]
) -> list[BlockCrop]:
    by_year = {span.year: span for span in spans}
    cycles = [cycle_of(each, records) for each in days]
    found = []
    for place, (each, cycle) in enumerate(zip(days, cycles, strict=True)):
        earlier = [past for past in cycles[:place] if past.sights]
        alike = [past for past in earlier if past.crop == cycle.crop]
        found.append(
            BlockCrop(
                season=by_year[each.season_year],
                crop_id=UUID(each.crop_id) if each.crop_id else None,
                cycle=cycle,
                past=alike or [past for past in earlier if past.crop == MAIN],
                comes_yearly=bool(alike) or cycle.crop == MAIN,
            )
        )
    return found


# Records -----------------------------------------------------------------------------------------


def _sheets(where: dict[str, Any], since: dt.date) -> dict[UUID, _Sheet]:
    sheets: dict[UUID, _Sheet] = defaultdict(_Sheet)
    kept = {**where, "retired_on": None}
    for block_id, cultivar_id, has_tree, seen in _stages(kept, since):
        sheets[block_id].stages.append((cultivar_id, seen))
        if has_tree and cultivar_id:
            sheets[block_id].of_trees.add(cultivar_id)
    logs = TaskLog.objects.filter(done_on__gte=since, kind__in=OPENINGS, **kept)
    for block_id, kind, on in logs.values_list("block_id", "kind", "done_on"):
        sheets[block_id].openings.append(Done(kind=OPENINGS[TaskKind(kind)], on=on))
    rounds = PollinationRound.objects.filter(pollinated_on__gte=since, method__in=BY_HAND, **kept)
    for block_id, cultivar_id, span in _spans(rounds, "pollinated_on"):
        sheets[block_id].pollinations.append((cultivar_id, span))
    weighings = HarvestWeight.objects.filter(picked_on__gte=since, **kept)
    for block_id, cultivar_id, span in _spans(weighings, "picked_on", "crop_id"):
        sheets[block_id].pickings.append((cultivar_id, span))
    return sheets


def _stages(
    where: dict[str, Any], since: dt.date
) -> Iterator[tuple[UUID, UUID | None, bool, Seen]]:
    """A tree's stage counts for its planted cultivar."""
    rows = GrowthStage.objects.filter(observed_on__gte=since, **where)
    columns = ("block_id", "tree_id", "tree__cultivar_id", "bbch", "observed_on")
    for block_id, tree_id, cultivar_id, bbch, on in rows.values_list(*columns):
        yield block_id, cultivar_id, tree_id is not None, Seen(bbch=int(bbch), on=on)


def _spans(rows: Any, day: str, *crop: str) -> Iterator[tuple[UUID, UUID | None, Span]]:
    """First and last days of a month: seasons start with one, and days between tell nothing."""
    columns = ("block_id", "cultivar_id", *crop)
    found = (
        rows.annotate(month=TruncMonth(day))
        .order_by()
        .values_list(*columns, "month")
        .annotate(first=Min(day), last=Max(day))
    )
    for block_id, cultivar_id, *named, _, first, last in found:
        crop_id = str(named[0]) if named and named[0] else None
        yield block_id, cultivar_id, Span(first=first, last=last, crop=crop_id)


def last_seen(cycle: Cycle) -> dt.date | None:
    """The day of the last thing seen of a crop."""
    return max((sight.on for sight in cycle.sights.values()), default=None)


def is_picked_out(cycle: Cycle, today: dt.date) -> bool:
    return cycle.seen(Stage.LAST_PICKING, today) is not None
