"""Everything a season summary is computed from: farms, season by season, as plain values."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.season_summary import Basis, Group
from planning.queries.block_seasons import CLOSED_BOOKS, NO_CULTIVAR, SOME_CULTIVAR, BlockSeason
from planning.queries.grades import co_op_grades, own_grades
from planning.queries.harvest import Picking, kept_weights, pickings
from planning.queries.intakes import Received, received
from planning.queries.memberships import OpenBooks
from planning.queries.portions import Portion, by_intakes, join, nothing
from planning.queries.stands import Place, Stand, StandKey, stands
from planning.queries.work import Work, timed_work
from planning.queries.years import ALL_YEARS, Years
from records.calendars import Calendar, calendar
from records.models import Block, Farm
from records.seasons import Season

NO_BLOCK = dict.fromkeys(("bearing_trees", "area_m2"), "the farm has no block that bore or worked")


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmSeason:
    """One season of one farm: its blocks, and its intakes, whether or not they name a block."""

    farm_id: UUID
    season: Season
    blocks: Sequence[BlockSeason]
    received: Sequence[Received]
    is_closed: bool
    books_are_open: bool

    @property
    def has_fruit(self) -> bool:
        return bool(self.received) or any(block.pickings for block in self.blocks)

    @property
    def bases(self) -> list[Basis]:
        """On which kilos are known; farm weighings also where nothing is known at all."""
        picked = not self.received or any(block.pickings for block in self.blocks)
        packed = any(fruit.days[Basis.PACKED] for fruit in self.received)
        known = {Basis.PICKED: picked, Basis.RECEIVED: bool(self.received), Basis.PACKED: packed}
        return [basis for basis, is_known in known.items() if is_known]

    def whole(self, basis: Basis, *, kind: str) -> Portion:
        blocks = [block.whole() for block in self.blocks]
        ground = join(blocks, kind=kind) if blocks else self._bare(kind, NO_BLOCK)
        return ground if basis is Basis.PICKED else by_intakes(ground, basis, self.received)

    def by_cultivar(self, basis: Basis, *, kind: str) -> dict[UUID | None, list[Portion]]:
        """What each cultivar gave; of weighings block by block, of intakes in one."""
        grounds: dict[UUID | None, list[Portion]] = defaultdict(list)
        for block in self.blocks:
            for cultivar_id in block.cultivars:
                grounds[cultivar_id].append(block.of_cultivar(cultivar_id))
        if basis is Basis.PICKED:
            return grounds
        return {
            cultivar_id: [by_intakes(self._ground(grounds, cultivar_id, kind), basis, fruit)]
            for cultivar_id, fruit in self._received_by_cultivar(basis).items()
        }

    def _received_by_cultivar(self, basis: Basis) -> dict[UUID | None, list[Received]]:
        found: dict[UUID | None, list[Received]] = defaultdict(list)
        for fruit in self.received:
            if fruit.days[basis]:
                found[fruit.cultivar_id].append(fruit)
        return found

    def _ground(
        self, grounds: Mapping[UUID | None, list[Portion]], cultivar_id: UUID | None, kind: str
    ) -> Portion:
        if cultivar_id in grounds:
            return join(grounds[cultivar_id], kind=kind)
        return self._bare(kind, SOME_CULTIVAR if cultivar_id else NO_CULTIVAR)

    def _bare(self, kind: str, reasons: Mapping[str, str]) -> Portion:
        """Nothing but the season: what intakes are put on where no block is known."""
        by_block = "minutes" in reasons
        return nothing(
            Group(
                kind=kind,
                basis=Basis.PICKED,
                days=[],
                trees=[],
                bearing_trees=None,
                area_m2=None,
                is_closed=self.is_closed,
                minutes={} if self.books_are_open and not by_block else None,
                reasons={**reasons, **({} if self.books_are_open else CLOSED_BOOKS)},
            ),
            self.season,
        )


def farm_seasons(
    farms: Sequence[Farm],
    *,
    today_in: Callable[[str], dt.date],
    co_op_id: UUID | None = None,
    years: Years = ALL_YEARS,
) -> list[FarmSeason]:
    """Those seasons in which a farm picked, delivered or worked, in seventeen queries at most.

    For a co-op, its members' fruit of the days of membership, by the co-op's grades, and their
    work where they share it. A block without any counts when it had trees that bore. `today_in`
    tells the local date of a time zone.
    """
    records = _load([farm.pk for farm in farms], calendar(farms), co_op_id, years)
    blocks = _blocks(farms, records, today_in)
    fruit = _by_farm_and_year(records.received)
    found = []
    for farm in farms:
        for year in sorted(records.years.get(farm.pk, {})):
            season = records.seasons.season_span(farm.pk, None, year)
            found.append(
                FarmSeason(
                    farm_id=farm.pk,
                    season=season,
                    blocks=blocks.get((farm.pk, year), []),
                    received=fruit.get((farm.pk, year), []),
                    is_closed=season.ends_on < today_in(farm.time_zone),
                    books_are_open=records.are_open(farm.pk, season),
                )
            )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Records:
    """What was recorded, by block and season; the first days of it by farm and year."""

    seasons: Calendar
    books: OpenBooks
    picked: Mapping[Place, list[Picking]]
    received: Sequence[Received]
    work: Mapping[Place, Work]
    years: Mapping[UUID, Mapping[int, dt.date]]

    def are_open(self, farm_id: UUID, season: Season) -> bool:
        return self.books.during(farm_id, season.starts_on, season.ends_on)

    def first_on(self, block: Block, year: int) -> dt.date:
        """The block's first picking day, else its farm's, else that of any record."""
        own = self.picked.get((block.pk, year))
        return _first_on(own) if own else self.years[block.farm_id][year]


def _load(ids: Sequence[UUID], seasons: Calendar, co_op_id: UUID | None, years: Years) -> _Records:
    naming = co_op_grades(co_op_id, ids) if co_op_id else own_grades(ids)
    books = OpenBooks(ids, co_op_id)
    found = pickings(kept_weights(ids, co_op_id), seasons, naming, books, years)
    fruit = received(ids, seasons, naming, co_op_id, years)
    work = timed_work(ids, seasons, co_op_id, years)
    return _Records(
        seasons=seasons,
        books=books,
        picked=_by_place(found),
        received=fruit,
        work=work,
        years=_years(found, fruit, work),
    )


def _years(
    picked: Sequence[Picking], fruit: Sequence[Received], work: Mapping[Place, Work]
) -> dict[UUID, dict[int, dt.date]]:
    """The first picking day of each farm and year; without picking, that of any record."""
    days: dict[UUID, dict[int, dt.date]] = defaultdict(dict)

    def note(farm_id: UUID, year: int, day: dt.date) -> None:
        days[farm_id][year] = min(days[farm_id].get(year, dt.date.max), day)

    for picking in picked:
        note(picking.farm_id, picking.season.year, _first_on([picking]))
    with_picking = {(farm_id, year) for farm_id, found in days.items() for year in found}
    others = [(item.farm_id, item.season.year, item.first_on) for item in fruit]
    others += [(item.farm_id, year, item.first_on) for (_, year), item in work.items()]
    for farm_id, year, day in others:
        if (farm_id, year) not in with_picking:
            note(farm_id, year, day)
    return days


def _blocks(
    farms: Sequence[Farm], records: _Records, today_in: Callable[[str], dt.date]
) -> dict[tuple[UUID, int], list[BlockSeason]]:
    """Blocks by farm and year: those with any record, and those that bore."""
    rows = Block.objects.filter(farm_id__in=[farm.pk for farm in farms])
    keys = list(_stand_keys(rows, records))
    standing = stands([key for _, key in keys])
    today = {farm.pk: today_in(farm.time_zone) for farm in farms}
    fruit = _by_block_and_year(records.received)
    found: dict[tuple[UUID, int], list[BlockSeason]] = defaultdict(list)
    for block, key in keys:
        place, stand = key.place, standing[key.place]
        has_record = place in records.picked or place in fruit or place in records.work
        if has_record or _bore(block, key.day, stand):
            season = records.seasons.season_span(block.farm_id, block.pk, key.season_year)
            work = records.work.get(place)
            is_open = records.are_open(block.farm_id, season)
            found[block.farm_id, key.season_year].append(
                BlockSeason(
                    farm_id=block.farm_id,
                    block_id=block.pk,
                    season=season,
                    pickings=records.picked.get(place, []),
                    received=fruit.get(place, []),
                    minutes=(work.minutes if work else {}) if is_open else None,
                    stand=stand,
                    stand_on=key.day,
                    area_m2=block.area_m2 or block.boundary_area_m2,
                    is_closed=season.ends_on < today[block.farm_id],
                )
            )
    return found


def _stand_keys(blocks: Iterable[Block], records: _Records) -> Iterator[tuple[Block, StandKey]]:
    for block in blocks:
        for year in records.years.get(block.farm_id, {}):
            day = records.first_on(block, year)
            yield block, StandKey(block_id=block.pk, season_year=year, day=day)


def _by_place(found: Sequence[Picking]) -> dict[Place, list[Picking]]:
    """Pickings by block and season."""
    by_place: dict[Place, list[Picking]] = defaultdict(list)
    for picking in found:
        by_place[picking.block_id, picking.season.year].append(picking)
    return dict(by_place)


def _by_block_and_year(found: Sequence[Received]) -> dict[Place, list[Received]]:
    by_place: dict[Place, list[Received]] = defaultdict(list)
    for fruit in found:
        if fruit.block_id:
            by_place[fruit.block_id, fruit.season.year].append(fruit)
    return dict(by_place)


def _by_farm_and_year(found: Sequence[Received]) -> dict[tuple[UUID, int], list[Received]]:
    by_farm: dict[tuple[UUID, int], list[Received]] = defaultdict(list)
    for fruit in found:
        by_farm[fruit.farm_id, fruit.season.year].append(fruit)
    return by_farm


def _first_on(found: Sequence[Picking]) -> dt.date:
    return min(day.day for picking in found for day in picking.days)


def _bore(block: Block, day: dt.date, stand: Stand) -> bool:
    in_use = block.retired_on is None or block.retired_on > day
    return in_use and bool(stand.bearing_trees)
