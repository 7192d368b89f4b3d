"""A farm's rows of one season: of itself, its cultivars, blocks and crops."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from planning.compute.season_summary import Basis, against_main, season_figures
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.block_seasons import BlockSeason
from planning.queries.farm_seasons import FarmSeason
from planning.queries.portions import join
from planning.services.summary_rows import summary_row


def farm_rows(season: FarmSeason) -> Iterator[SeasonSummary]:
    """By each basis that the farm knows, each apart from the others."""
    farm_id = season.farm_id
    for basis in season.bases:
        whole, blocks = season.whole(basis, kind="farm"), {"blocks": len(season.blocks)}
        yield summary_row(SummaryLevel.FARM, whole, inputs=blocks, farm_id=farm_id)
        for cultivar_id, portions in season.by_cultivar(basis, kind="cultivar").items():
            yield summary_row(
                SummaryLevel.CULTIVAR,
                join(portions, kind="cultivar"),
                inputs={"blocks": len(portions)} if basis is Basis.PICKED else {},
                farm_id=farm_id,
                cultivar_id=cultivar_id,
            )
    for block in season.blocks:
        yield from _block_rows(block)


def _block_rows(block: BlockSeason) -> Iterator[SeasonSummary]:
    about: dict[str, Any] = {
        "inputs": {"trees_from": block.stand.source, "trees_on": block.stand_on.isoformat()},
        "farm_id": block.farm_id,
        "block_id": block.block_id,
    }
    yield summary_row(SummaryLevel.BLOCK, block.whole(), **about)
    for basis in (Basis.RECEIVED, Basis.PACKED):
        if any(fruit.days[basis] for fruit in block.received):
            yield summary_row(SummaryLevel.BLOCK, block.by_intakes(basis), **about)
    yield from _crop_rows(block, about)


def _crop_rows(block: BlockSeason, about: Mapping[str, Any]) -> Iterator[SeasonSummary]:
    """A row a crop; a further crop is held against the main one."""
    crops = {crop_id: block.of_crop(crop_id) for crop_id in block.crops}
    main = season_figures(crops[block.main_crop].group) if block.main_crop else None
    for crop_id, portion in crops.items():
        row = summary_row(SummaryLevel.CROP, portion, crop_id=crop_id, **about)
        if crop_id != block.main_crop and len(crops) > 1:
            row.against_main = asdict(against_main(season_figures(portion.group), main))
        yield row
