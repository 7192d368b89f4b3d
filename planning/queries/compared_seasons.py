"""Series of seasons from stored summaries, and the girths that were measured on blocks."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from orchard.access import Area, Caller
from planning.compute.seasons_compared import (
    Compared,
    Efficiency,
    Girth,
    SeasonRow,
    Section,
    block_efficiency,
    compare,
    sections,
)
from planning.models import SeasonSummary, SummaryLevel
from records.models import Tree, TrunkGirth

# What a series is of: a crop has one season only, and a co-op's totals change with its members.
LEVELS = (
    SummaryLevel.BLOCK,
    SummaryLevel.CULTIVAR,
    SummaryLevel.FARM,
    SummaryLevel.MEMBER,
    SummaryLevel.MEMBER_CULTIVAR,
)
NOT_SHARED = "Girths of trunks are not shared with you."


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedSeason:
    """A stored summary, compared with the earlier ones of its series."""

    summary: SeasonSummary
    compared: Compared
    efficiency: Efficiency | None


def compared_seasons(summaries: Iterable[SeasonSummary], caller: Caller) -> list[ComparedSeason]:
    """Each series by itself, in the order of its seasons; kilos of each basis apart."""
    series: dict[tuple[Any, ...], list[SeasonSummary]] = defaultdict(list)
    for summary in summaries:
        series[_series_of(summary)].append(summary)
    trunks = _Trunks(summaries, caller)
    return [each for rows in series.values() for each in _compared(rows, trunks)]


def _series_of(row: SeasonSummary) -> tuple[Any, ...]:
    return row.level, row.farm_id, row.co_op_id, row.block_id, row.cultivar_id, row.basis


def _compared(rows: Sequence[SeasonSummary], trunks: "_Trunks") -> list[ComparedSeason]:
    by_year = {row.season_year: row for row in rows}
    found = compare(season_row(row) for row in rows)
    return [
        ComparedSeason(
            summary=by_year[each.row.year],
            compared=each,
            efficiency=trunks.efficiency(by_year[each.row.year]),
        )
        for each in found
    ]


def season_row(summary: SeasonSummary) -> SeasonRow:
    return SeasonRow(
        year=summary.season_year,
        label=summary.season_label,
        starts_on=summary.starts_on,
        ends_on=summary.ends_on,
        is_closed=summary.is_closed,
        net_g=summary.net_g,
        estimated_g=summary.estimated_g,
        kg_per_tree=summary.kg_per_tree,
        t_per_ha=summary.t_per_ha,
        marketable_share=summary.marketable_share,
        first_on=summary.first_on,
        p50_on=summary.p50_on,
        last_on=summary.last_on,
    )


class _Trunks:
    """Girths measured on the blocks of some summaries, where the caller may see them."""

    def __init__(self, summaries: Iterable[SeasonSummary], caller: Caller) -> None:
        self.caller = caller
        blocks = {row.block_id for row in summaries if row.level == SummaryLevel.BLOCK}
        self.of_blocks = trunks_of([each for each in blocks if each], caller)

    def efficiency(self, summary: SeasonSummary) -> Efficiency | None:
        """Of blocks only: a cultivar's trees may stand among others."""
        if summary.level != SummaryLevel.BLOCK or summary.block_id is None:
            return None
        if not self._may_see(summary.farm_id):
            return replace(block_efficiency(None, [], None), reason=NOT_SHARED)
        measured = self.of_blocks[summary.block_id].measured(
            summary.first_on or summary.ends_on, summary.ends_on
        )
        return block_efficiency(summary.kg_per_tree, measured, summary.bearing_trees)

    def _may_see(self, farm_id: UUID | None) -> bool:
        fields = self.caller.farms_with("reads", Area.FIELD)
        return self.caller.is_platform_admin or farm_id in fields


@dataclass(frozen=True, slots=True)
class BlockTrunks:
    """A block's trees that are not marked non-bearing, and the girths of their trunks."""

    girths: list[tuple[Tree, Girth]]

    def measured(self, first_on: dt.date, ends_on: dt.date) -> list[Section]:
        """The sections of the trees that stood on the first picking day."""
        standing = [girth for tree, girth in self.girths if _stands(tree, first_on)]
        return sections(standing, first_on, ends_on)


def trunks_of(block_ids: Collection[UUID], caller: Caller) -> dict[UUID, BlockTrunks]:
    """In one query."""
    found: dict[UUID, BlockTrunks] = defaultdict(lambda: BlockTrunks([]))
    rows: Any = TrunkGirth.objects.all().visible_to(caller)
    rows = rows.filter(tree__block__in=block_ids, tree__non_bearing=False, retired_on__isnull=True)
    for row in rows.select_related("tree").order_by("measured_on", "pk") if block_ids else ():
        girth = Girth(
            tree=str(row.tree_id),
            trunk=row.trunk,
            on=row.measured_on,
            section_cm2=row.section_cm2,
        )
        found[row.tree.block_id].girths.append((row.tree, girth))
    return found


def _stands(tree: Tree, day: dt.date) -> bool:
    planted = tree.planted_on is None or tree.planted_on <= day
    return planted and (tree.removed_on is None or tree.removed_on > day)
