"""Limits of warmth and dampness beyond which flowers set poorly, by species, with their source."""

import operator
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from planning.compute.pollination_windows.sources import MANSOUR, PAULL_DUARTE
from planning.compute.pollination_windows.weather import DayWeather

# Whether something is so; None where nobody knows.
Known = bool | None


class Reading(StrEnum):
    """The day's highest temperature, its lowest, and its humidity."""

    WARMTH = "warmth"
    NIGHT = "night"
    DAMP = "damp"


class Side(StrEnum):
    ABOVE = "above"
    AT_LEAST = "at-least"
    BELOW = "below"
    AT_MOST = "at-most"


IS_BEYOND: dict[Side, Callable[[float, float], bool]] = {
    Side.ABOVE: operator.gt,
    Side.AT_LEAST: operator.ge,
    Side.BELOW: operator.lt,
    Side.AT_MOST: operator.le,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A bound in degrees Celsius or percent, and the side of it on which a caution holds."""

    reading: Reading
    side: Side
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """It holds where all its limits do; one without limits always. No species means all."""

    code: str
    species: tuple[str, ...]
    text: str
    source: str
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A caution for a day; `holds` is None where the day's weather does not tell."""

    caution: Caution
    holds: Known


def _warmth(side: Side, value: float) -> Limit:
    return Limit(reading=Reading.WARMTH, side=side, value=value)


def _damp(side: Side, value: float) -> Limit:
    return Limit(reading=Reading.DAMP, side=side, value=value)


CAUTIONS = (
    Caution(
        code="hot-and-dry",
        species=("sugar-apple",),
        text="Above 30 C and below 60 % humidity flowers set poorly, even pollinated by hand.",
        source=PAULL_DUARTE,
        limits=(_warmth(Side.ABOVE, 30), _damp(Side.BELOW, 60)),
    ),
    Caution(
        code="hot-and-very-dry",
        species=("sugar-apple", "atemoya", "cherimoya"),
        text="At 30 C and 30 % humidity flowers set poorly; at 25 C and 80 % much better.",
        source=PAULL_DUARTE,
        limits=(_warmth(Side.AT_LEAST, 30), _damp(Side.AT_MOST, 30)),
    ),
    Caution(
        code="cooler-than-best",
        species=("atemoya",),
        text="Flowers set best at 22 to 28 C; days below 22 C are cooler than that.",
        source=PAULL_DUARTE,
        limits=(_warmth(Side.BELOW, 22),),
    ),
    Caution(
        code="warmer-than-best",
        species=("atemoya",),
        text="Flowers set best at 22 to 28 C; days above 28 C are warmer than that.",
        source=PAULL_DUARTE,
        limits=(_warmth(Side.ABOVE, 28),),
    ),
    Caution(
        code="pollen-too-cool",
        species=("cherimoya",),
        text="Pollen germinates best at 20 to 25 C; days below 20 C are cooler than that.",
        source="Rosell 1999, in Pinto et al. 2005",
        limits=(_warmth(Side.BELOW, 20),),
    ),
    Caution(
        code="pollen-too-warm",
        species=("cherimoya",),
        text="Pollen germinates best at 20 to 25 C; days above 25 C are warmer than that.",
        source="Rosell 1999, in Pinto et al. 2005",
        limits=(_warmth(Side.ABOVE, 25),),
    ),
    Caution(
        code="hot-days",
        species=("cherimoya",),
        text="Days of 30 C with nights of 25 C gave very low set, against days of 20 C.",
        source="Higuchi 1998, in Pinto et al. 2005",
        limits=(_warmth(Side.AT_LEAST, 30),),
    ),
    Caution(
        code="cold-nights",
        species=("cherimoya",),
        text="Nights below 12 C give few fruit.",
        source="New Zealand notes on cherimoya",
        limits=(Limit(reading=Reading.NIGHT, side=Side.BELOW, value=12),),
    ),
    Caution(
        code="dry-weather",
        species=(),
        text=(
            "In dry weather a flower takes pollen for only two to three hours after it opens."
            " The source gives no bound; below 60 % humidity is taken as dry."
        ),
        source=MANSOUR,
        limits=(_damp(Side.BELOW, 60),),
    ),
    Caution(
        code="pollen-life",
        species=(),
        text=(
            "Gathered pollen does not keep: that of cherimoya is good for 90 minutes in the air"
            " and clearly weaker by 120. In a refrigerator it keeps for about three days."
        ),
        source="La Mayora, record 10261/5413; du Preez 2001",
    ),
)


def cautions_on(species: str, weather: DayWeather | None) -> tuple[Told, ...]:
    """The cautions that hold for a species on a day, and those of which nobody knows."""
    day = weather or DayWeather()
    found = (
        Told(caution=caution, holds=_holds(caution.limits, day))
        for caution in CAUTIONS
        if not caution.species or species in caution.species
    )
    return tuple(told for told in found if told.holds is not False)


def _holds(limits: tuple[Limit, ...], day: DayWeather) -> Known:
    """By the day's readings; heat and dryness together hour by hour, where hours were read."""
    hours = [
        _readings(hour.temperature_c, None, hour.humidity_percent)
        for hour in day.hours
        if hour.temperature_c is not None and hour.humidity_percent is not None
    ]
    if hours and {limit.reading for limit in limits} >= {Reading.WARMTH, Reading.DAMP}:
        return any(_all(_is_beyond(limit, hour) for limit in limits) for hour in hours)
    whole = _readings(day.tmax_c, day.tmin_c, day.humidity_percent)
    return _all(_is_beyond(limit, whole) for limit in limits)


def _readings(
    warmth: float | None, night: float | None, damp: float | None
) -> dict[Reading, float | None]:
    return {Reading.WARMTH: warmth, Reading.NIGHT: night, Reading.DAMP: damp}


def _is_beyond(limit: Limit, readings: dict[Reading, float | None]) -> Known:
    value = readings[limit.reading]
    return None if value is None else IS_BEYOND[limit.side](value, limit.value)


def _all(facts: Iterable[Known]) -> Known:
    """False as soon as one is; else unknown as soon as one is."""
    known = list(facts)
    if False in known:
        return False
    return None if None in known else True
