"""Season summaries: a farm's own, and those of a co-op from what its members share.

A rebuild makes everything anew. A refresh does so with the seasons whose records have moved since
they were last built, and comes to the same rows. A co-op's are added up from its members' stored
rows and roll-ups, season by season, and never from weighings.
"""

import datetime as dt
from collections.abc import Callable, Collection, Sequence
from uuid import UUID

from django.db import transaction

from planning.models import SeasonSummary, SeenRecords
from planning.models.season_summaries import SUMMARY_KEY
from planning.queries.farm_seasons import farm_seasons
from planning.queries.member_seasons import co_op_days, member_portions
from planning.queries.seen_records import Seen, seen_now
from planning.queries.years import ALL_YEARS, Years
from planning.querysets import SeasonSummaryQuerySet
from planning.services import roll_ups
from planning.services.co_op_summaries import joint_rows, member_rows
from planning.services.derived import Written, columns_of, lock, store
from planning.services.farm_summaries import farm_rows
from records.models import CoOp, Farm, Membership

TodayIn = Callable[[str], dt.date]  # the local date of a time zone
CHUNK = 20  # farms whose seasons are in memory at once


# A farm's own ------------------------------------------------------------------------------------


def rebuild_farm(farm_id: UUID, today: dt.date) -> Written:
    """Make a farm's own summaries anew; `today` is its local date."""
    return rebuild_farms([farm_id], lambda _: today)


@transaction.atomic
def rebuild_farms(farm_ids: Collection[UUID], today_in: TodayIn) -> Written:
    """Make those of some farms anew, all of them in memory at once."""
    farms = _locked(farm_ids)
    return _build_farms(farms, seen_now(farms), today_in, ALL_YEARS)


@transaction.atomic
def refresh_farm(farm_id: UUID, today: dt.date) -> Written:
    """Bring a farm's own summaries up to date where its records have moved, or a season ended."""
    farms = _locked([farm_id])
    seen = seen_now(farms)
    stored = SeasonSummary.objects.filter(farm_id=farm_id)
    years = _moved(farm_id, None, seen.get(farm_id), stored, today)
    return _build_farms(farms, seen, lambda _: today, years)


def _locked(farm_ids: Collection[UUID]) -> list[Farm]:
    lock(*(f"season summaries of farm {farm_id}" for farm_id in farm_ids))
    return list(Farm.objects.filter(pk__in=farm_ids))


def _build_farms(
    farms: Sequence[Farm], seen: dict[UUID, Seen], today_in: TodayIn, years: Years
) -> Written:
    if not farms or years.are_none:
        return Written()
    ids = [farm.pk for farm in farms]
    stored = SeasonSummary.objects.filter(farm_id__in=ids)
    found = farm_seasons(farms, today_in=today_in, years=years)
    rows = (columns_of(row) for season in found for row in farm_rows(season))
    written = store(years.of(stored), rows, key=SUMMARY_KEY)
    _remember(seen, None)
    return written


# What a co-op sees of its members ----------------------------------------------------------------


@transaction.atomic
def rebuild_members(co_op: CoOp, farm_ids: Collection[UUID], today_in: TodayIn) -> Written:
    """Make the co-op's rows about some members anew, all of them in memory at once."""
    _lock_members(co_op, farm_ids)
    return _build_members(co_op, farm_ids, seen_now(_members(co_op, farm_ids)), today_in, ALL_YEARS)


@transaction.atomic
def refresh_member(co_op_id: UUID, farm_id: UUID, today: dt.date) -> Written:
    """Bring the co-op's rows about one member up to date where something has moved."""
    co_op: CoOp = CoOp.objects.get(pk=co_op_id)
    _lock_members(co_op, [farm_id])
    seen = seen_now(_members(co_op, [farm_id]))
    stored = SeasonSummary.objects.filter(co_op=co_op, member_id=farm_id)
    years = _moved(farm_id, co_op_id, seen.get(farm_id), stored, today)
    return _build_members(co_op, [farm_id], seen, lambda _: today, years)


def _lock_members(co_op: CoOp, farm_ids: Collection[UUID]) -> None:
    lock(*(f"season summaries of farm {farm_id} in co-op {co_op.pk}" for farm_id in farm_ids))


def _members(co_op: CoOp, farm_ids: Collection[UUID]) -> list[Farm]:
    """Those of the farms that are members, or have been."""
    joined = Membership.objects.filter(co_op=co_op, farm_id__in=farm_ids)
    return list(Farm.objects.filter(pk__in=joined.values("farm_id")))


def _build_members(
    co_op: CoOp,
    farm_ids: Collection[UUID],
    seen: dict[UUID, Seen],
    today_in: TodayIn,
    years: Years,
) -> Written:
    if years.are_none:
        return Written()
    memberships = list(Membership.objects.filter(co_op=co_op, farm_id__in=farm_ids))
    farms = list(Farm.objects.filter(pk__in=seen))
    found = farm_seasons(farms, today_in=today_in, co_op_id=co_op.pk, years=years)
    seasons = [season for season in found if season.has_fruit]
    rows = (columns_of(row) for each in seasons for row in member_rows(co_op, each, memberships))
    stored = SeasonSummary.objects.filter(co_op=co_op, member_id__in=farm_ids)
    written = store(years.of(stored), rows, key=SUMMARY_KEY)
    with_fruit = {each.season.year for each in seasons}
    touched = roll_ups.store_members(co_op, farm_ids, years, with_fruit)
    roll_ups.mark_stale(co_op.pk, touched.union(years.named or ()))
    SeenRecords.objects.filter(co_op=co_op, farm_id__in=set(farm_ids) - set(seen)).delete()
    _remember(seen, co_op.pk)
    return written


# A co-op's own -----------------------------------------------------------------------------------


def rebuild_co_op(co_op_id: UUID, today_in: TodayIn) -> Written:
    """Make a co-op's summaries and roll-ups anew, a few members at a time."""
    co_op: CoOp = CoOp.objects.get(pk=co_op_id)
    written = Written()
    for chunk in chunks(_farms_of(co_op)):
        written += rebuild_members(co_op, chunk, today_in)
    stored = SeasonSummary.objects.filter(co_op=co_op)
    for year in sorted(set(stored.values_list("season_year", flat=True))):
        written += _add_up(co_op_id, year)
    return written


def refresh_co_op(co_op_id: UUID, today_in: TodayIn) -> Written:
    """Add up the seasons in which a member's rows have moved."""
    co_op: CoOp = CoOp.objects.get(pk=co_op_id)
    written = Written()
    built = SeenRecords.objects.filter(co_op=co_op).values("farm_id")
    unbuilt = Membership.objects.filter(co_op=co_op).exclude(farm_id__in=built)
    for chunk in chunks(sorted(set(unbuilt.values_list("farm_id", flat=True)))):
        written += rebuild_members(co_op, chunk, today_in)
    for year in roll_ups.stale_years(co_op_id):
        written += _add_up(co_op_id, year)
    return written


@transaction.atomic
def _add_up(co_op_id: UUID, year: int) -> Written:
    """Make the co-op's own rows of one season from those of its members."""
    lock(f"season summaries of co-op {co_op_id}")
    roll_ups.take_stale(co_op_id, year)
    roll_ups.store_days(co_op_id, year)
    rows = joint_rows(co_op_id, member_portions(co_op_id, year), co_op_days(co_op_id, year))
    stored = SeasonSummary.objects.filter(co_op_id=co_op_id, member=None, season_year=year)
    return store(stored, map(columns_of, rows), key=SUMMARY_KEY)


def _farms_of(co_op: CoOp) -> list[UUID]:
    """Members, and farms that were none after all but of which something is stored."""
    joined = Membership.objects.filter(co_op=co_op).values_list("farm_id", flat=True)
    stored = SeasonSummary.objects.filter(co_op=co_op, member__isnull=False)
    return sorted({*joined, *stored.values_list("member_id", flat=True)})


def chunks(farm_ids: Sequence[UUID]) -> list[Sequence[UUID]]:
    return [farm_ids[start : start + CHUNK] for start in range(0, len(farm_ids), CHUNK)]


# What is to be done ------------------------------------------------------------------------------


def _moved(
    farm_id: UUID,
    co_op_id: UUID | None,
    seen: Seen | None,
    stored: SeasonSummaryQuerySet,
    today: dt.date,
) -> Years:
    """Seasons whose records have moved since they were built, or that have ended since."""
    row = SeenRecords.objects.filter(farm_id=farm_id, co_op_id=co_op_id).first()
    if seen is None or row is None:
        return ALL_YEARS
    earlier = {int(year): digest for year, digest in row.of_seasons.items()}
    moved = seen.moved_since(Seen(of_farm=row.of_farm, of_seasons=earlier))
    if moved is None:
        return ALL_YEARS
    ended = stored.filter(is_closed=False, ends_on__lt=today)
    return Years(named=moved.union(ended.values_list("season_year", flat=True)))


def _remember(seen: dict[UUID, Seen], co_op_id: UUID | None) -> None:
    SeenRecords.objects.bulk_create(
        [
            SeenRecords(
                farm_id=farm_id,
                co_op_id=co_op_id,
                of_farm=of.of_farm,
                of_seasons=dict(of.of_seasons),
            )
            for farm_id, of in seen.items()
        ],
        update_conflicts=True,
        unique_fields=["farm", "co_op"],
        update_fields=["of_farm", "of_seasons"],
    )


def farms_with_ended_season(today_in: TodayIn) -> list[UUID]:
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
