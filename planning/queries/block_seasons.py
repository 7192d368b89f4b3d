"""One season of one block, as plain values: its fruit, its trees, its work."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.season_summary import Basis, Group
from planning.queries.harvest import Picking
from planning.queries.intakes import Received
from planning.queries.portions import Portion, by_intakes
from planning.queries.stands import Stand
from planning.queries.work import PICKING
from records.seasons import Season

# Why a figure is not known, as half a sentence.
SOME_CULTIVAR = {
    "bearing_trees": "no tree of this cultivar is recorded on the block",
    "area_m2": "the block's records do not say how much of it this cultivar covers",
    "minutes": "work is recorded by block, not by cultivar",
}
NO_CULTIVAR = {
    **SOME_CULTIVAR,
    "bearing_trees": "the cultivar of this fruit is not known",
    "area_m2": "the cultivar of this fruit is not known",
}
SEVERAL_CROPS = {"minutes": "work is recorded by block, and it had more than one crop"}
CLOSED_BOOKS = dict.fromkeys(
    ("minutes", "kg_per_picking_hour"), "the member shares its harvest, not its work"
)

MAIN_CROP = "main"  # as a crop is named unless somebody says otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSeason:
    """One season of one block, its fruit and its stand on the season's first picking day.

    `received` are the intakes that name the block. `minutes` are those of work other than
    picking; None where a member does not share them.
    """

    farm_id: UUID
    block_id: UUID
    season: Season
    pickings: Sequence[Picking]
    received: Sequence[Received]
    minutes: Mapping[str, int] | None
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

    @property
    def main_crop(self) -> UUID | None:
        """The crop that others are held against; None where there is none, or more than one."""
        named = {each.crop_id for each in self.pickings if each.crop_name == MAIN_CROP}
        return named.pop() if len(named) == 1 else None

    def whole(self) -> Portion:
        return self._portion(
            self.pickings,
            self.stand.bearing_trees,
            self.area_m2,
            self._minutes(),
            CLOSED_BOOKS if self.minutes is None else {},
        )

    def by_intakes(self, basis: Basis) -> Portion:
        return by_intakes(self.whole(), basis, self.received)

    def of_crop(self, crop_id: UUID) -> Portion:
        """One crop's fruit, from all the block's trees."""
        picked = [picking for picking in self.pickings if picking.crop_id == crop_id]
        alone = len(picked) == len(self.pickings)
        return self._portion(
            picked,
            self.stand.bearing_trees,
            self.area_m2,
            self._minutes() if alone else None,
            {} if alone else SEVERAL_CROPS,
        )

    def of_cultivar(self, cultivar_id: UUID | None) -> Portion:
        reasons = NO_CULTIVAR if cultivar_id is None else SOME_CULTIVAR
        return self._portion(
            [picking for picking in self.pickings if picking.cultivar_id == cultivar_id],
            self.stand.bearing_trees_of(cultivar_id),
            self.stand.area_m2_of(cultivar_id, self.area_m2),
            None,
            {**reasons, **(CLOSED_BOOKS if self.minutes is None else {})},
        )

    def _minutes(self) -> Mapping[str, int] | None:
        picking = sum(picking.minutes for picking in self.pickings)
        if self.minutes is None:
            return None
        return {**self.minutes, **({PICKING: picking} if picking else {})}

    def _portion(
        self,
        picked: Sequence[Picking],
        bearing_trees: int | None,
        area_m2: int | None,
        minutes: Mapping[str, int] | None,
        reasons: Mapping[str, str],
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
                minutes=minutes,
                reasons=reasons,
            ),
            season=self.season,
            counts=sum((picking.counts for picking in picked), Counter()),
            unmapped_grades=frozenset().union(*(picking.unmapped_grades for picking in picked)),
        )
