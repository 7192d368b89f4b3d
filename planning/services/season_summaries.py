"""Season summaries: a farm's own, and those of a co-op from what its members share."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

from django.db import transaction

from planning.compute.bases import NAMES, Basis, basis_of_member, stand_in_reason
from planning.compute.season_summary import against_main, season_figures
from planning.models import SeasonSummary, SummaryLevel
from planning.models.season_summaries import SUMMARY_KEY
from planning.queries.block_seasons import BlockSeason
from planning.queries.farm_seasons import FarmSeason, farm_seasons
from planning.queries.portions import Portion, join
from planning.services.derived import Written, columns_of, lock, store
from planning.services.summary_rows import summary_row
from records.models import CoOp, Farm, Membership
from records.seasons import Season


@transaction.atomic
def rebuild_farm(farm_id: UUID, today: dt.date) -> Written:
    """Bring a farm's own summaries up to date; `today` is its local date."""
    lock(f"season summaries of farm {farm_id}")
    farms = list(Farm.objects.filter(pk=farm_id))
    found = farm_seasons(farms, today_in=lambda _: today)
    rows = [columns_of(row) for season in found for row in _farm_rows(season)]
    return store(SeasonSummary.objects.filter(farm_id=farm_id), rows, key=SUMMARY_KEY)


@transaction.atomic
def rebuild_co_op(co_op_id: UUID, today_in: Callable[[str], dt.date]) -> Written:
    """Bring a co-op's summaries up to date; `today_in` tells the local date of a time zone."""
    lock(f"season summaries of co-op {co_op_id}")
    co_op: CoOp = CoOp.objects.get(pk=co_op_id)
    memberships = list(Membership.objects.filter(co_op_id=co_op_id))
    farms = list(Farm.objects.filter(pk__in={member.farm_id for member in memberships}))
    found = farm_seasons(farms, today_in=today_in, co_op_id=co_op_id)
    rows = [
        columns_of(row)
        for seasons in _by_year(season for season in found if season.has_fruit).values()
        for row in _co_op_rows(co_op, seasons, memberships)
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


def _by_year(found: Iterable[FarmSeason]) -> dict[int, list[FarmSeason]]:
    by_year: dict[int, list[FarmSeason]] = defaultdict(list)
    for season in found:
        by_year[season.season.year].append(season)
    return by_year


# A farm's rows of one season ---------------------------------------------------------------------


def _farm_rows(season: FarmSeason) -> Iterator[SeasonSummary]:
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


# A co-op's rows of one season --------------------------------------------------------------------


def _co_op_rows(
    co_op: CoOp, seasons: Sequence[FarmSeason], memberships: Sequence[Membership]
) -> Iterator[SeasonSummary]:
    """One row a member, by the co-op's basis or what stands in for it; a total by each basis."""
    chosen = Basis(co_op.basis)
    members: dict[Basis, list[Portion]] = defaultdict(list)
    by_cultivar: dict[tuple[Basis, UUID | None], list[Portion]] = defaultdict(list)
    for season in seasons:
        basis = basis_of_member(chosen, season.bases)
        whole = season.whole(basis, kind="member")
        about: dict[str, Any] = {
            "reasons": {
                **_membership_reason(season.farm_id, whole.season, memberships),
                **_stand_in_reason(basis, chosen),
            },
            "co_op_id": co_op.pk,
            "member_id": season.farm_id,
        }
        members[basis].append(whole)
        blocks = {"blocks": len(season.blocks)}
        yield summary_row(SummaryLevel.MEMBER, whole, inputs=blocks, **about)
        for cultivar_id, portions in season.by_cultivar(basis, kind="member").items():
            portion = join(portions, kind="member")
            by_cultivar[basis, cultivar_id].append(portion)
            yield summary_row(
                SummaryLevel.MEMBER_CULTIVAR,
                portion,
                inputs={"blocks": len(portions)} if basis is Basis.PICKED else {},
                cultivar_id=cultivar_id,
                **about,
            )
    for basis, portions in members.items():
        reasons = _part_reason(basis, portions, len(seasons))
        yield _joint_row(SummaryLevel.CO_OP, portions, reasons, kind="co-op", co_op_id=co_op.pk)
    for (_, cultivar_id), portions in by_cultivar.items():
        yield _joint_row(
            SummaryLevel.CO_OP_CULTIVAR,
            portions,
            {},
            kind="cultivar",
            co_op_id=co_op.pk,
            cultivar_id=cultivar_id,
        )


def _joint_row(
    level: SummaryLevel,
    members: Sequence[Portion],
    reasons: Mapping[str, str],
    *,
    kind: str,
    **links: Any,
) -> SeasonSummary:
    """Several members' fruit as one row, with the seasons that it joins."""
    seasons = Counter(member.season.label for member in members)
    return summary_row(
        level,
        join(members, kind=kind),
        inputs={"members": len(members), "seasons": dict(sorted(seasons.items()))},
        reasons={**_seasons_reason(seasons, members[0].season.year), **reasons},
        **links,
    )


def _stand_in_reason(basis: Basis, chosen: Basis) -> dict[str, str]:
    text = stand_in_reason(basis, chosen)
    return {"basis": f"basis: {text}"} if text else {}


def _part_reason(basis: Basis, members: Sequence[Portion], of: int) -> dict[str, str]:
    if len(members) == of:
        return {}
    text = f"{len(members)} of {of} members, by {NAMES[basis]}; the others stand in a row apart"
    return {"basis": f"basis: {text}, since kilos of different bases are never added"}


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
    return {"net_g": "net kilos: only fruit of the days of membership counts"}


def _covers(member: Membership, season: Season) -> bool:
    ends = member.ends_on is None or member.ends_on >= season.ends_on
    return ends and member.starts_on <= season.starts_on
