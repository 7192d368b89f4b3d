"""A farm's working hours for brushing flowers and gathering pollen, in four queries."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.pollination_windows import (
    Anchor,
    DayHours,
    Edge,
    FarmHours,
    Ground,
    SpeciesHours,
    Sun,
    Window,
    WorkHours,
    day_hours,
    flower_dates,
    hours_held,
    hours_without_sun,
    shedding,
)
from planning.compute.sun import SunDay, sun_day
from planning.models import FlowerHours, ScheduleSetting
from planning.models.flower_hours import fields_of
from planning.queries.flower_weather import UsedWeather, weather_of
from records.models import Farm, Species

NO_COORDINATES = (
    "The farm has no coordinates, so nobody knows when the sun rises there."
    " Enter its latitude and longitude."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmDays:
    """A farm's clock, sun and weather by day, and each species' hours by its id and day.

    Without coordinates `suns` is empty, and every day says what is missing.
    """

    ground: Ground
    suns: Mapping[dt.date, SunDay]
    weather: Mapping[dt.date, UsedWeather]
    held: Mapping[UUID, SpeciesHours]
    hours: Mapping[UUID, Mapping[dt.date, DayHours]]


def hours_for(
    farm: Farm, species_ids: Iterable[UUID], first: dt.date, last: dt.date
) -> Mapping[UUID, Mapping[dt.date, DayHours]]:
    """By species and local date: the sessions of `brush` and `gather`, in UTC, and their minutes.

    A day without sessions says why in its part's `reason`.
    """
    return farm_days(farm, Species.objects.filter(pk__in=list(species_ids)), first, last).hours


def farm_days(farm: Farm, species: Iterable[Species], first: dt.date, last: dt.date) -> FarmDays:
    """Everything about the days from `first` to `last`, both counted."""
    days = [first + dt.timedelta(days=shift) for shift in range((last - first).days + 1)]
    kinds = list(species)
    held = hours_held_by(farm, kinds)
    suns = suns_of(farm, {each for day in days for each in flower_dates(day)})
    weather = weather_of(farm, flower_dates(first)[0], flower_dates(last)[-1])
    ground = ground_of(farm)
    return FarmDays(
        ground=ground,
        suns=suns,
        weather=weather,
        held=held,
        hours={kind.pk: _of_species(held[kind.pk], days, ground, suns, weather) for kind in kinds},
    )


def hours_held_by(farm: Farm, species: Sequence[Species]) -> dict[UUID, SpeciesHours]:
    """Whose hours hold for each species on the farm."""
    rows = FlowerHours.objects.filter(farm=farm, species__in=species)
    decided = {row.species_id: as_farm_hours(row) for row in rows}
    return {kind.pk: hours_held(kind.code, decided.get(kind.pk)) for kind in species}


def as_farm_hours(row: FlowerHours) -> FarmHours:
    """What a farm decided, as the computation takes it; WindowError where it ends too early."""
    return FarmHours(
        chosen=row.shipped_source or None,
        brush=own_window(row, "brush"),
        gather=own_window(row, "gather"),
        source=row.source,
    )


def own_window(row: FlowerHours, part: str) -> Window | None:
    opens, opens_minutes, closes, closes_minutes = (getattr(row, name) for name in fields_of(part))
    if not opens:
        return None
    return Window(
        opens=Edge(anchor=Anchor(opens), minutes=opens_minutes),
        closes=Edge(anchor=Anchor(closes), minutes=closes_minutes),
    )


def suns_of(farm: Farm, days: Iterable[dt.date]) -> dict[dt.date, SunDay]:
    """The sun by day; nothing without coordinates."""
    if farm.latitude is None or farm.longitude is None:
        return {}
    place = (float(farm.latitude), float(farm.longitude), farm.time_zone)
    return {day: sun_day(*place, day) for day in days}


def ground_of(farm: Farm) -> Ground:
    setting = ScheduleSetting.objects.filter(farm=farm, works_from__isnull=False).first()
    work = None
    if setting is not None and setting.works_from and setting.works_until:
        work = WorkHours(starts=setting.works_from, ends=setting.works_until)
    return Ground(zone=ZoneInfo(farm.time_zone), work=work)


def _of_species(
    held: SpeciesHours,
    days: Sequence[dt.date],
    ground: Ground,
    suns: Mapping[dt.date, SunDay],
    weather: Mapping[dt.date, UsedWeather],
) -> dict[dt.date, DayHours]:
    if not suns:
        return {day: hours_without_sun(day, held, NO_COORDINATES) for day in days}
    by_day: Mapping[dt.date, Sun] = suns
    shed = shedding(held.gather.windows, by_day, {day: w.read for day, w in weather.items()})
    return {day: day_hours(day, held, ground=ground, suns=by_day, shed=shed) for day in days}
