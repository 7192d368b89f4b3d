"""What the demo's people did and saw in the field, as plain values: enough to set off its tasks.

Each crop is pruned on the day that opened it, is seen to bloom, is visited five times and counted
twice, all invented. Now and then something was not done, so that the schedule has gaps to show.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from orchard.demo.cast import Cast, Cultivar
from orchard.demo.course import season_luck
from orchard.demo.crops import Crop, crops
from orchard.demo.stands import bearing_stands
from records.seasons import Season

VISITS = (1, 4, 7, 9, 12)  # days after first bloom
LEAF_OUT = 14  # days after the pruning
HALF_BLOOM, BLOOM_ENDS = 21, 40  # days after first bloom
SKIN_CHANGES = 12  # days before the first picking
COUNTS = {"initial": 20, "retained": 75}  # days after the last visit
LEFT_OUT = 0.12  # share of the work that nobody got round to
NOT_BY_HAND = "custard-apple"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One piece of work or one observation; `detail` is a BBCH stage or the kind of a count."""

    farm: str
    block: str
    cultivar: str
    what: str  # pruning, stage, visit or count
    on: date
    detail: str = ""
    amount: int = 0
    minutes: int = 0


def fieldwork(cast: Cast) -> list[Deed]:
    """Everything done by the cast's day, in order of date."""
    deeds = [deed for crop in crops(cast) for deed in _of_crop(cast, crop) if deed.on <= cast.as_of]
    return sorted(deeds, key=lambda deed: (deed.on, deed.farm, deed.block, deed.what, deed.detail))


def _of_crop(cast: Cast, crop: Crop) -> Iterator[Deed]:
    farm = next(farm for farm in cast.farms if farm.code == crop.farm)
    season = farm.season_span(crop.season_year)
    stand = max(
        (each for each in bearing_stands(cast, farm, season) if each.block.code == crop.block),
        key=lambda each: (each.full_grown_trees, each.cultivar.name),
    )
    rng = Random(f"{crop.farm} {crop.block} {crop.season_year}")
    for what, on, detail in _planned(cast, crop, season, stand.cultivar):
        amount, minutes = rng.randint(60, 240), rng.randint(40, 300)
        is_seen = what == "stage"
        if is_seen or rng.random() >= LEFT_OUT:
            yield Deed(
                farm=crop.farm,
                block=crop.block,
                cultivar=stand.cultivar.name,
                what=what,
                on=on,
                detail=detail,
                amount=amount,
                minutes=minutes,
            )


def _planned(
    cast: Cast, crop: Crop, season: Season, cultivar: Cultivar
) -> Iterator[tuple[str, date, str]]:
    yield from _stages(cast, crop, season, cultivar)
    if crop.opened_by == "pruning":
        yield "pruning", crop.opened_on, ""
    if crop.bloom_began_on is None:
        return
    first = crop.bloom_began_on
    if cultivar.species == NOT_BY_HAND:
        return
    for days in VISITS:
        yield "visit", first + timedelta(days=days), ""
    for kind, days in COUNTS.items():
        yield "count", first + timedelta(days=VISITS[-1] + days), kind


def _stages(
    cast: Cast, crop: Crop, season: Season, cultivar: Cultivar
) -> Iterator[tuple[str, date, str]]:
    """When each stage is seen, a day or two to either side of the usual."""
    rng = Random(f"{crop.farm} {crop.block} {crop.season_year} stages")
    farm = next(farm for farm in cast.farms if farm.code == crop.farm)
    late = farm.picking.lateness_days + season_luck(farm, season).days_late
    if crop.opened_by == "pruning":
        yield "stage", crop.opened_on + timedelta(days=LEAF_OUT + rng.randint(-2, 2)), "10"
    if crop.bloom_began_on is not None:
        yield "stage", crop.bloom_began_on, "60"
        for days, stage in ((HALF_BLOOM, "65"), (BLOOM_ENDS, "69")):
            yield "stage", crop.bloom_began_on + timedelta(days=days + rng.randint(-2, 2)), stage
    picked = season.starts_on + timedelta(days=cultivar.picking_starts_on_day - 1 + late)
    yield "stage", picked - timedelta(days=SKIN_CHANGES + rng.randint(-2, 2)), "81"
