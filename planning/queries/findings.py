"""A farm's weighings and intakes as the rules of findings look at them.

Only recent seasons are looked at, and older ones in which something was changed since: three
seasons are enough for files to be held against each other.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any
from uuid import UUID

from django.db import connection

from planning.compute.findings import Ground, Load, Range, Row, RowKind, Trees
from planning.models import FindingRun
from planning.queries.figures import FarmFigures, figures_of
from planning.queries.harvest import season_day
from planning.queries.stands import StandKey, stands
from records.calendars import Calendar, calendar
from records.choices import GRAMS, WeightUnit
from records.models import DeliveryWeight, Farm, HarvestWeight, Intake

SEASONS_BACK = 2
# An intake that names no delivery is of the weighings under its docket, picked so many days before.
DOCKET_DAYS = 14

TOUCHED = """
SELECT greatest((SELECT max(tick) FROM records_harvestweight WHERE farm_id = %(farm)s),
                (SELECT max(tick) FROM records_intake WHERE farm_id = %(farm)s)),
       least((SELECT min(picked_on) FROM records_harvestweight
              WHERE farm_id = %(farm)s AND (tick > %(tick)s OR tick IS NULL)),
             (SELECT min(received_on) FROM records_intake
              WHERE farm_id = %(farm)s AND (tick > %(tick)s OR tick IS NULL)))
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What is looked at on a farm: everything from a day on, and up to which change."""

    since: dt.date
    tick: int
    ground: Ground


def look(farm: Farm, today: dt.date) -> Looked:
    """In about ten queries, however many rows there are."""
    seasons = calendar([farm])
    tick, touched = _touched(farm)
    recent = seasons.season_of(farm.pk, None, today).year - SEASONS_BACK
    since = seasons.season_span(farm.pk, None, recent).starts_on
    if touched is not None and touched < since:
        since = seasons.season_of(farm.pk, None, touched).starts_on
    picked = list(_weighings(farm, seasons, since))
    received, of_deliveries = _intakes(farm, seasons, since)
    ground = Ground(
        rows=[*picked, *received],
        today=today,
        loads=_loads(picked, received, of_deliveries),
        trees=_trees(picked),
        ranges=_ranges(picked, figures_of(farm.pk)),
    )
    return Looked(since=since, tick=tick, ground=ground)


def _touched(farm: Farm) -> tuple[int, dt.date | None]:
    """The farm's latest change, and the first day of what changed since it was last looked at."""
    run = FindingRun.objects.filter(farm=farm).first()
    last = run.tick if run else 0
    with connection.cursor() as cursor:
        cursor.execute(TOUCHED, {"farm": farm.pk, "tick": last})
        tick, touched = cursor.fetchone()
    return tick or last, touched


# Rows --------------------------------------------------------------------------------------------

SHARED = (
    *("id", "version", "weight", "unit", "net_g", "containers", "cultivar_id", "docket"),
    *("block_id", "block__code", "container__code", "container__usual_net_g"),
    *("cultivar__name", "cultivar__species__code", "harvest_import_id"),
    "harvest_import__file_name",
)
OF_WEIGHINGS = ("picked_on", "season_day", "fruit_count", "grade_id", "grade__is_marketable")
OF_INTAKES = ("received_on", "co_op_id", "delivery_id")


def _weighings(farm: Farm, seasons: Calendar, since: dt.date) -> Iterator[Row]:
    rows = HarvestWeight.objects.kept().filter(farm=farm, picked_on__gte=since)
    named = rows.annotate(season_day=season_day()).order_by("created_at", "pk")
    for number, row in enumerate(named.values(*SHARED, *OF_WEIGHINGS)):
        season = seasons.season_of(farm.pk, row["block_id"], row["season_day"])
        yield Row(
            kind=RowKind.WEIGHING,
            number=number,
            day=row["picked_on"],
            season_year=season.year,
            season_label=season.label,
            fruit_count=row["fruit_count"],
            grade=str(row["grade_id"] or ""),
            is_cull=row["grade__is_marketable"] is False,
            **_shared(row),
        )


def _intakes(
    farm: Farm, seasons: Calendar, since: dt.date
) -> tuple[list[Row], dict[UUID, UUID | None]]:
    """Intakes, and the delivery of each."""
    kept = Intake.objects.filter(farm=farm, received_on__gte=since, retired_on__isnull=True)
    rows: list[Row] = []
    of_deliveries: dict[UUID, UUID | None] = {}
    ordered = kept.order_by("created_at", "pk").values(*SHARED, *OF_INTAKES)
    for number, row in enumerate(ordered):
        season = seasons.season_of(farm.pk, row["block_id"], row["received_on"])
        of_deliveries[row["id"]] = row["delivery_id"]
        rows.append(
            Row(
                kind=RowKind.INTAKE,
                number=number,
                day=row["received_on"],
                season_year=season.year,
                season_label=season.label,
                co_op=row["co_op_id"],
                **_shared(row),
            )
        )
    return rows, of_deliveries


def _shared(row: dict[str, Any]) -> dict[str, Any]:
    """What weighings and intakes have in common."""
    return {
        "id": row["id"],
        "version": row["version"],
        "block": row["block_id"],
        "block_code": row["block__code"] or "",
        "weight": row["weight"],
        "unit": row["unit"],
        "tare_g": _tare_g(row),
        "net_g": row["net_g"],
        "containers": row["containers"],
        "container": row["container__code"] or "",
        "usual_net_g": row["container__usual_net_g"],
        "cultivar": row["cultivar_id"],
        "cultivar_name": row["cultivar__name"] or "",
        "species": row["cultivar__species__code"] or "",
        "docket": row["docket"],
        "source": row["harvest_import_id"],
        "source_name": row["harvest_import__file_name"] or "",
    }


def _tare_g(row: dict[str, Any]) -> int:
    """What was taken off what the scale showed."""
    if row["weight"] is None or row["net_g"] is None:
        return 0
    shown = row["weight"] * GRAMS[WeightUnit(row["unit"])]
    return int(shown.quantize(Decimal(1), rounding=ROUND_HALF_EVEN)) - row["net_g"]


# What rows are held against ----------------------------------------------------------------------


def _loads(
    picked: Sequence[Row], received: Sequence[Row], of_deliveries: dict[UUID, UUID | None]
) -> list[Load]:
    """Weighings and intakes by delivery, else by docket."""
    named = [key for key in of_deliveries.values() if key]
    links = DeliveryWeight.objects.filter(delivery_id__in=named).values_list(
        "delivery_id", "weight_id"
    )
    by_id = {row.id: row for row in picked}
    loads: dict[Any, tuple[list[Row], list[Row]]] = defaultdict(lambda: ([], []))
    linked: set[UUID] = set()
    for delivery_id, weight_id in links:
        if weight_id in by_id:
            loads[delivery_id][0].append(by_id[weight_id])
            linked.add(weight_id)
    by_docket: dict[str, list[Row]] = defaultdict(list)
    for row in picked:
        if row.docket and row.id not in linked:
            by_docket[row.docket].append(row)
    for row in received:
        key = of_deliveries[row.id] or (row.docket, row.season_year)
        loads[key][1].append(row)
    for (docket, _), (weighings, intakes) in _without_delivery(loads):
        last = max(row.day for row in intakes)
        first = last - dt.timedelta(days=DOCKET_DAYS)
        weighings += [row for row in by_docket[docket] if first <= row.day <= last]
    return [Load(picked=weighings, received=intakes) for weighings, intakes in loads.values()]


def _without_delivery(loads: dict[Any, Any]) -> Iterator[Any]:
    return ((key, load) for key, load in loads.items() if isinstance(key, tuple) and key[0])


def _trees(picked: Sequence[Row]) -> dict[tuple[UUID, dt.date], Trees]:
    """Trees of each block on the first and the last day of each season, if need be on all days."""
    spans: dict[tuple[UUID, int], list[dt.date]] = defaultdict(list)
    for row in picked:
        if row.block is not None:
            spans[row.block, row.season_year].append(row.day)
    ends = {(block, day) for (block, _), days in spans.items() for day in (min(days), max(days))}
    known = _on_days(ends)
    doubtful = {
        (block, day)
        for (block, _), days in spans.items()
        if any(known.get((block, end), SOME).bearing == 0 for end in (min(days), max(days)))
        for day in days
    }
    return known | _on_days(doubtful - set(known))


SOME = Trees(standing=1, bearing=1)


def _on_days(places: set[tuple[UUID, dt.date]]) -> dict[tuple[UUID, dt.date], Trees]:
    """Of blocks of which anything is known. A stand goes by block and number: that of its day."""
    if not places:
        return {}
    keys = [
        StandKey(block_id=block, season_year=day.toordinal(), day=day)
        for block, day in sorted(places)
    ]
    return {
        (block, dt.date.fromordinal(number)): Trees(
            standing=sum(each.standing for each in stand.by_cultivar.values()),
            bearing=stand.bearing_trees,
        )
        for (block, number), stand in stands(keys).items()
        if stand.bearing_trees is not None
    }


def _ranges(picked: Sequence[Row], figures: FarmFigures) -> dict[UUID, Range]:
    """By cultivar, where both ends are known: the farm's own figures, else published ones."""
    found = {}
    for cultivar, species in {(row.cultivar, row.species) for row in picked}:
        if cultivar is None:
            continue
        least, most = (
            figures.figure(species, f"fruit-weight-{end}", cultivar) for end in ("least", "most")
        )
        if least.value and most.value:
            found[cultivar] = Range(
                least_g=least.value, most_g=most.value, source=most.source or "the farm's own"
            )
    return found
