"""Hours in words that a grower can follow."""

from collections.abc import Iterable

from planning.compute.pollination_windows.values import (
    MINUTES_A_DAY,
    MINUTES_AN_HOUR,
    Anchor,
    Edge,
    PollenDay,
    Window,
)

EVENTS = {
    Anchor.SUNRISE: "sunrise",
    Anchor.SOLAR_NOON: "solar noon",
    Anchor.SUNSET: "sunset",
}
DAYS = {
    -1: " of the day before they open",
    0: "",
    1: " of the day after they open",
    2: " of the second day after they open",
}
WHEN = {
    PollenDay.SAME_DAY: ", if pollen is shed on the same day",
    PollenDay.NEXT_DAY: ", if pollen is shed on the next day",
}


def in_words(windows: Iterable[Window]) -> str:
    """From one event of the sun to another, from the day on which the flowers open.

    >>> from planning.compute.pollination_windows.sources import SUGAR_APPLE
    >>> in_words(SUGAR_APPLE[0].brush.windows)
    'from sunrise to 53 minutes before solar noon'
    """
    return ", and ".join(_window(window) for window in windows)


def _window(window: Window) -> str:
    when = WHEN[window.when] if window.when else ""
    return f"from {_edge(window.opens)} to {_edge(window.closes)}{when}"


def _edge(edge: Edge) -> str:
    days = round(edge.minutes / MINUTES_A_DAY)
    minutes = edge.minutes - days * MINUTES_A_DAY
    event = f"{EVENTS[edge.anchor]}{DAYS[days]}"
    if minutes == 0:
        return event
    return f"{length_in_words(abs(minutes))} {'before' if minutes < 0 else 'after'} {event}"


def length_in_words(minutes: int) -> str:
    """Whole hours and minutes.

    >>> length_in_words(61)
    '1 hour and 1 minute'
    """
    hours, rest = divmod(minutes, MINUTES_AN_HOUR)
    parts = [_count(hours, "hour"), _count(rest, "minute")]
    return " and ".join(part for part in parts if part)


def _count(number: int, unit: str) -> str:
    return f"{number} {unit}{'' if number == 1 else 's'}" if number else ""
