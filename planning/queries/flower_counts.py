"""What a farm's marked flowers set, by the hour from solar noon at which they were pollinated."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.pollination_windows import (
    HourCount,
    OwnCounts,
    SpeciesHours,
    Sun,
    Window,
    flower_dates,
    own_counts,
    sources_of,
    span_of,
)
from planning.compute.sun import YEARS
from planning.queries.pollination_hours import NO_COORDINATES, suns_of
from records.choices import BY_HAND, CountedOn, CountKind
from records.models import Farm, FruitCount, PollinationRound, Species


def own_counts_of(
    farm: Farm, species: Sequence[Species], held: Mapping[UUID, SpeciesHours]
) -> dict[UUID, OwnCounts]:
    """By species; without coordinates there is no noon to count from."""
    if farm.latitude is None:
        nothing = OwnCounts(hours=(), held=None, proposal=None, reason=NO_COORDINATES)
        return {kind.pk: nothing for kind in species}
    counted = _counted(farm, species)
    rounds = [round_ for _, rounds in counted for round_ in rounds]
    days = {day for round_ in rounds for day in flower_dates(round_.pollinated_on)}
    suns = suns_of(farm, days)
    found: dict[UUID, list[HourCount]] = defaultdict(list)
    for counts, of_rounds in counted:
        kind = of_rounds[0].cultivar.species
        count = _hour_count(farm, kind, held[kind.pk], counts, of_rounds, suns)
        if count is not None:
            found[kind.pk].append(count)
    return {
        kind.pk: own_counts(found[kind.pk], [each.code for each in sources_of(kind.code)])
        for kind in species
    }


def _counted(
    farm: Farm, species: Sequence[Species]
) -> list[tuple[list[FruitCount], list[PollinationRound]]]:
    """Of rounds counted together, the counts of the last day; each round by hand, with its hour."""
    rows = (
        FruitCount.objects.filter(
            farm=farm,
            kind=CountKind.INITIAL,
            counted=CountedOn.MARKED_FLOWERS,
            retired_on__isnull=True,
            rounds__cultivar__species__in=species,
        )
        .distinct()
        .prefetch_related("rounds__cultivar__species")
    )
    by_rounds: dict[frozenset[UUID], list[FruitCount]] = defaultdict(list)
    for row in rows:
        by_rounds[frozenset(each.pk for each in row.rounds.all())].append(row)
    return [
        (_of_last_day(counts), rounds)
        for counts in by_rounds.values()
        if _are_usable(rounds := list(counts[0].rounds.all()))
    ]


def _of_last_day(counts: Sequence[FruitCount]) -> list[FruitCount]:
    last = max(count.counted_on for count in counts)
    return [count for count in counts if count.counted_on == last]


def _are_usable(rounds: Sequence[PollinationRound]) -> bool:
    return len({round_.cultivar.species_id for round_ in rounds}) == 1 and all(
        round_.started_at
        and round_.method in BY_HAND
        and round_.retired_on is None
        and round_.pollinated_on.year in YEARS[1:-1]
        for round_ in rounds
    )


def _hour_count(
    farm: Farm,
    kind: Species,
    held: SpeciesHours,
    counts: Sequence[FruitCount],
    rounds: Sequence[PollinationRound],
    suns: Mapping[dt.date, Sun],
) -> HourCount | None:
    """None where the rounds began at different hours, so that nobody knows which set what."""
    zone = ZoneInfo(farm.time_zone)
    starts = [
        dt.datetime.combine(round_.pollinated_on, round_.started_at or dt.time(), tzinfo=zone)
        for round_ in rounds
    ]
    minutes = [
        (at - suns[round_.pollinated_on].noon).total_seconds() / 60
        for at, round_ in zip(starts, rounds, strict=True)
    ]
    if max(minutes) - min(minutes) >= 60:
        return None
    at, day = starts[0], rounds[0].pollinated_on
    return HourCount(
        minutes_from_noon=sum(minutes) / len(minutes),
        flowers=sum(count.flowers_looked_at or 0 for count in counts),
        fruit=sum(count.fruit for count in counts),
        in_hours=_is_within(at, day, held.brush.windows, suns),
        in_sources=frozenset(
            source.code
            for source in sources_of(kind.code)
            if _is_within(at, day, source.brush.windows, suns)
        ),
    )


def _is_within(
    at: dt.datetime, day: dt.date, windows: Sequence[Window], suns: Mapping[dt.date, Sun]
) -> bool:
    spans = (span_of(window, suns[each]) for window in windows for each in flower_dates(day))
    return any(span is not None and span.starts <= at < span.ends for span in spans)
