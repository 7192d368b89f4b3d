"""Season summaries: a farm's own, and those of a co-op from what its members share."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import transaction

from planning.models import SeasonSummary, SummaryLevel
from planning.models.season_summaries import SUMMARY_KEY
from planning.queries.block_seasons import BlockSeason, block_seasons
from planning.queries.portions import Portion, join
from planning.services.derived import Written, lock, store
from planning.services.summary_rows import summary_row
from records.models import Farm, Membership
from records.seasons import Season


@transaction.atomic
def rebuild_farm(farm_id: UUID, today: dt.date) -> Written:
    """Bring a farm's own summaries up to date; `today` is its local date."""
    lock(f"season summaries of farm {farm_id}")
    farms = list(Farm.objects.filter(pk=farm_id))
    found = block_seasons(farms, today_in=lambda _: today)
    rows = [row for blocks in _by_year(found).values() for row in _farm_rows(farm_id, blocks)]
    return store(SeasonSummary.objects.filter(farm_id=farm_id), rows, key=SUMMARY_KEY)


@transaction.atomic
def rebuild_co_op(co_op_id: UUID, today_in: Callable[[str], dt.date]) -> Written:
    """Bring a co-op's summaries up to date; `today_in` tells the local date of a time zone."""
    lock(f"season summaries of co-op {co_op_id}")
    memberships = list(Membership.objects.filter(co_op_id=co_op_id))
    farms = list(Farm.objects.filter(pk__in={member.farm_id for member in memberships}))
    found = block_seasons(farms, today_in=today_in, co_op_id=co_op_id)
    rows = [
        row
        for blocks in _by_year(found).values()
        for row in _co_op_rows(co_op_id, blocks, memberships)
    ]
    return store(SeasonSummary.objects.filter(co_op_id=co_op_id), rows, key=SUMMARY_KEY)


def farms_with_ended_season(today_in: Callable[[str], dt.date]) -> list[UUID]:
    """Farms whose local date has passed the last day of a season that still counts as open."""
    zones = Farm.objects.values_list("time_zone", flat=True).distinct()
    return [
        farm_id
        for zone in zones
        for farm_id in SeasonSummary.objects.ended_by(today_in(zone))
        .filter(farm__time_zone=zone)
        .values_list("farm_id", flat=True)
        .distinct()
    ]


def co_ops_of(farm_id: UUID) -> set[UUID]:
    """Co-ops whose summaries hold, or may hold, something of a farm."""
    joined = Membership.objects.filter(farm_id=farm_id).values_list("co_op_id", flat=True)
    summed = SeasonSummary.objects.filter(member_id=farm_id).values_list("co_op_id", flat=True)
    return {*joined, *summed}


def _by_year(found: Sequence[BlockSeason]) -> dict[int, list[BlockSeason]]:
    by_year: dict[int, list[BlockSeason]] = defaultdict(list)
    for block in found:
        by_year[block.season.year].append(block)
    return by_year


def _by_cultivar(blocks: Sequence[BlockSeason]) -> dict[UUID | None, list[Portion]]:
    by_cultivar: dict[UUID | None, list[Portion]] = defaultdict(list)
    for block in blocks:
        for cultivar_id in block.cultivars:
            by_cultivar[cultivar_id].append(block.of_cultivar(cultivar_id))
    return by_cultivar


# A farm's rows of one season ---------------------------------------------------------------------


def _farm_rows(farm_id: UUID, blocks: Sequence[BlockSeason]) -> Iterator[SeasonSummary]:
    whole = join([block.whole() for block in blocks], kind="farm")
    yield summary_row(SummaryLevel.FARM, whole, inputs={"blocks": len(blocks)}, farm_id=farm_id)
    for cultivar_id, portions in _by_cultivar(blocks).items():
        yield summary_row(
            SummaryLevel.CULTIVAR,
            join(portions, kind="cultivar"),
            inputs={"blocks": len(portions)},
            farm_id=farm_id,
            cultivar_id=cultivar_id,
        )
    for block in blocks:
        yield from _block_rows(block)


def _block_rows(block: BlockSeason) -> Iterator[SeasonSummary]:
    about: dict[str, Any] = {
        "inputs": {"trees_from": block.stand.source, "trees_on": block.stand_on.isoformat()},
        "farm_id": block.farm_id,
        "block_id": block.block_id,
    }
    yield summary_row(SummaryLevel.BLOCK, block.whole(), **about)
    for crop_id in block.crops:
        yield summary_row(SummaryLevel.CROP, block.of_crop(crop_id), crop_id=crop_id, **about)


# A co-op's rows of one season --------------------------------------------------------------------


def _co_op_rows(
    co_op_id: UUID, blocks: Sequence[BlockSeason], memberships: Sequence[Membership]
) -> Iterator[SeasonSummary]:
    members: list[Portion] = []
    by_cultivar: dict[UUID | None, list[Portion]] = defaultdict(list)
    for farm_id, own in _by_farm(blocks).items():
        whole = join([block.whole() for block in own], kind="member")
        about: dict[str, Any] = {
            "reasons": _membership_reason(farm_id, whole.season, memberships),
            "co_op_id": co_op_id,
            "member_id": farm_id,
        }
        members.append(whole)
        yield summary_row(SummaryLevel.MEMBER, whole, inputs={"blocks": len(own)}, **about)
        for cultivar_id, portions in _by_cultivar(own).items():
            portion = join(portions, kind="member")
            by_cultivar[cultivar_id].append(portion)
            yield summary_row(
                SummaryLevel.MEMBER_CULTIVAR,
                portion,
                inputs={"blocks": len(portions)},
                cultivar_id=cultivar_id,
                **about,
            )
    yield _joint_row(SummaryLevel.CO_OP, members, kind="co-op", co_op_id=co_op_id)
    for cultivar_id, portions in by_cultivar.items():
        yield _joint_row(
            SummaryLevel.CO_OP_CULTIVAR,
            portions,
            kind="cultivar",
            co_op_id=co_op_id,
            cultivar_id=cultivar_id,
        )


def _joint_row(
    level: SummaryLevel, members: Sequence[Portion], *, kind: str, **links: Any
) -> SeasonSummary:
    """Several members' fruit as one row, with the seasons that it joins."""
    seasons = Counter(member.season.label for member in members)
    return summary_row(
        level,
        join(members, kind=kind),
        inputs={"members": len(members), "seasons": dict(sorted(seasons.items()))},
        reasons=_seasons_reason(seasons, members[0].season.year),
        **links,
    )


def _by_farm(blocks: Sequence[BlockSeason]) -> dict[UUID, list[BlockSeason]]:
    by_farm: dict[UUID, list[BlockSeason]] = defaultdict(list)
    for block in blocks:
        by_farm[block.farm_id].append(block)
    return by_farm


def _seasons_reason(seasons: Mapping[str, int], year: int) -> dict[str, str]:
    if len(seasons) == 1:
        return {}
    text = f"members' seasons start in different months; each one's that starts in {year} counts"
    return {"season_label": f"season: {text}"}


def _membership_reason(
    farm_id: UUID, season: Season, memberships: Sequence[Membership]
) -> dict[str, str]:
    """A caution where a member belonged to the co-op for a part of the season only."""
    own = [member for member in memberships if member.farm_id == farm_id]
    if any(_covers(member, season) for member in own):
        return {}
    return {"net_g": "net kilos: only weighings of the days of membership count"}


def _covers(member: Membership, season: Season) -> bool:
    ends = member.ends_on is None or member.ends_on >= season.ends_on
    return ends and member.starts_on <= season.starts_on
