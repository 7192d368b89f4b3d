"""Everything a season summary is computed from: blocks, season by season, as plain values."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.season_summary import Basis, Group
from planning.queries.grades import co_op_grades, own_grades
from planning.queries.harvest import Picking, kept_weights, pickings
from planning.queries.portions import Portion
from planning.queries.stands import Place, Stand, StandKey, stands
from records.calendars import calendar
from records.models import Block, Farm
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSeason:
    """One season of one block, its fruit and its stand on the season's first picking day."""

    farm_id: UUID
    block_id: UUID
    season: Season
    pickings: Sequence[Picking]
    stand: Stand
    stand_on: dt.date
    area_m2: int | None
    is_closed: bool

    @property
    def cultivars(self) -> set[UUID | None]:
        """Those picked, and those that bear and were not."""
        bearing = {key for key, trees in self.stand.by_cultivar.items() if key and trees.bearing}
        return {picking.cultivar_id for picking in self.pickings} | bearing

    @property
    def crops(self) -> set[UUID]:
        return {picking.crop_id for picking in self.pickings if picking.crop_id}

    def whole(self) -> Portion:
        return self._portion(self.pickings, self.stand.bearing_trees, self.area_m2)

    def of_crop(self, crop_id: UUID) -> Portion:
        """One crop's fruit, from all the block's trees."""
        picked = [picking for picking in self.pickings if picking.crop_id == crop_id]
        return self._portion(picked, self.stand.bearing_trees, self.area_m2)

    def of_cultivar(self, cultivar_id: UUID | None) -> Portion:
        return self._portion(
            [picking for picking in self.pickings if picking.cultivar_id == cultivar_id],
            self.stand.bearing_trees_of(cultivar_id),
            self.stand.area_m2_of(cultivar_id, self.area_m2),
            NO_CULTIVAR if cultivar_id is None else SOME_CULTIVAR,
        )

    def _portion(
        self,
        picked: Sequence[Picking],
        bearing_trees: int | None,
        area_m2: int | None,
        reasons: dict[str, str] | None = None,
    ) -> Portion:
        return Portion(
            group=Group(
                kind="block",
                basis=Basis.PICKED,
                days=[day for picking in picked for day in picking.days],
                trees=[tree for picking in picked for tree in picking.trees],
                bearing_trees=bearing_trees,
                area_m2=area_m2,
                is_closed=self.is_closed,
                reasons=reasons or {},
            ),
            season=self.season,
            counts=sum((picking.counts for picking in picked), Counter()),
            unmapped_grades=frozenset().union(*(picking.unmapped_grades for picking in picked)),
        )


# Why a cultivar's trees or area are not known, as half a sentence.
SOME_CULTIVAR = {
    "bearing_trees": "no tree of this cultivar is recorded on the block",
    "area_m2": "the block's records do not say how much of it this cultivar covers",
}
NO_CULTIVAR = {
    "bearing_trees": "the cultivar of this fruit is not known",
    "area_m2": "the cultivar of this fruit is not known",
}


def block_seasons(
    farms: Sequence[Farm],
    *,
    today_in: Callable[[str], dt.date],
    co_op_id: UUID | None = None,
) -> list[BlockSeason]:
    """Every block in every season in which its farm picked anything, in ten queries at most.

    For a co-op, its members' fruit of the days of membership, by the co-op's grades. A block
    that was not picked counts when it had trees that bore. `today_in` tells the local date of a
    time zone.
    """
    ids = [farm.pk for farm in farms]
    seasons = calendar(farms)
    naming = co_op_grades(co_op_id, ids) if co_op_id else own_grades(ids)
    picked = _by_place(pickings(kept_weights(ids, co_op_id), seasons, naming))
    keys = list(_stand_keys(Block.objects.filter(farm_id__in=ids), picked))
    standing = stands([key for _, key in keys])
    today = {farm.pk: today_in(farm.time_zone) for farm in farms}
    found = []
    for block, key in keys:
        fruit, stand = picked.get(key.place, []), standing[key.place]
        if fruit or _bore(block, key.day, stand):
            season = seasons.season_span(block.farm_id, block.pk, key.season_year)
            found.append(
                BlockSeason(
                    farm_id=block.farm_id,
                    block_id=block.pk,
                    season=season,
                    pickings=fruit,
                    stand=stand,
                    stand_on=key.day,
                    area_m2=block.area_m2 or block.boundary_area_m2,
                    is_closed=season.ends_on < today[block.farm_id],
                )
            )
    return found


def _by_place(found: Sequence[Picking]) -> dict[Place, list[Picking]]:
    """Pickings by block and season."""
    by_place: dict[Place, list[Picking]] = defaultdict(list)
    for picking in found:
        by_place[picking.block_id, picking.season.year].append(picking)
    return dict(by_place)


def _stand_keys(
    blocks: Iterable[Block], picked: dict[Place, list[Picking]]
) -> Iterator[tuple[Block, StandKey]]:
    """Each block in each season of its farm: on its own first picking day, else the farm's."""
    first_on = {place: _first_on(found) for place, found in picked.items()}
    of_farm: dict[UUID, dict[int, dt.date]] = defaultdict(dict)
    for (_, year), found in picked.items():
        days = of_farm[found[0].farm_id]
        days[year] = min(days.get(year, dt.date.max), _first_on(found))
    for block in blocks:
        for year, day in of_farm[block.farm_id].items():
            own = first_on.get((block.pk, year), day)
            yield block, StandKey(block_id=block.pk, season_year=year, day=own)


def _first_on(found: Sequence[Picking]) -> dt.date:
    return min(day.picked_on for picking in found for day in picking.days)


def _bore(block: Block, day: dt.date, stand: Stand) -> bool:
    in_use = block.retired_on is None or block.retired_on > day
    return in_use and bool(stand.bearing_trees)
