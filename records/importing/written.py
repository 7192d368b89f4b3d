"""Numbers and dates as people write them, read under one decimal mark and one date order.

A decimal mark is "." or ","; the other one, or a space, may group thousands. A date order says
where day and month stand when both are numbers; a year of four digits in front, or a month by
name, needs no order. A year of two digits is taken as 20yy, and only where the order is known or
the month has a name; it stands last, unless the order is year first.
"""

import re
from collections.abc import Iterable
from datetime import date, time
from decimal import Decimal
from functools import lru_cache
from typing import Literal, NamedTuple

from records.importing.units import fold

DecimalMark = Literal[".", ","]
DateOrder = Literal["day-month-year", "month-day-year", "year-month-day"]

MAX_NUMBER_CHARS = 30


class Month(NamedTuple):
    year: int
    month: int


def _number_pattern(mark: str, group: str) -> re.Pattern[str]:
    grouped = rf"[1-9][0-9]{{0,2}}(?:(?:{group}[0-9]{{3}})+|(?: [0-9]{{3}})+)"
    return re.compile(rf"[+-]?(?:(?:{grouped}|[0-9]+)(?:{mark}[0-9]+)?|{mark}[0-9]+)")


_NUMBERS = {".": _number_pattern(r"\.", ","), ",": _number_pattern(",", r"\.")}
_GROUPS = {".": str.maketrans("", "", ", "), ",": str.maketrans(",", ".", ". ")}
_LOOKALIKES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-"})

_CLOCK = re.compile(
    r"[T ][0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?( ?[ap]\.?m\.?)?$", re.IGNORECASE
)
_TIME = re.compile(
    r"([0-9]{1,2})(?:[:h.]([0-9]{2})(?::[0-9]{2})?|h)? ?(?:([ap])\.?m\.?)?", re.IGNORECASE
)
_YEAR_FIRST = re.compile(r"([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})")
_COMPACT = re.compile(r"([0-9]{4})()([0-9]{2})([0-9]{2})")
_NUMERIC = re.compile(r"([0-9]{1,2})([-/. ])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
_DAY = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th|o)?")
_YEAR = re.compile(r"[0-9]{4}|[0-9]{2}")
_YEAR_AND_MONTH = re.compile(r"(20[0-9]{2})[-./ _]([0-9]{1,2})|([0-9]{1,2})[-./ _](20[0-9]{2})")
_YEAR_OF_THIS_CENTURY = re.compile(r"(?<![0-9])20[0-9]{2}(?![0-9])")
_ACROSS_NEW_YEAR = re.compile(r"(?<![0-9])20([0-9]{2})[-/_ ](?:20)?([0-9]{2})(?![0-9])")
_FILLERS = frozenset({"de", "del", "of"})
_MONTH_NAMES = (
    "january enero janeiro",
    "february febrero fevereiro",
    "march marzo março",
    "april abril",
    "may mayo maio",
    "june junio junho",
    "july julio julho",
    "august agosto",
    "september septiembre setiembre setembro sept",
    "october octubre outubro",
    "november noviembre novembro",
    "december diciembre dezembro",
)
_MONTHS = {
    word: month
    for month, names in enumerate(_MONTH_NAMES, start=1)
    for name in fold(names).split()
    for word in (name, name[:3])
}


def parse_number(text: str, mark: DecimalMark) -> Decimal | None:
    """The number, or None where it is none under this decimal mark."""
    plain = text.translate(_LOOKALIKES).strip()
    if len(plain) > MAX_NUMBER_CHARS or not _NUMBERS[mark].fullmatch(plain):
        return None
    return Decimal(plain.translate(_GROUPS[mark]))


def parse_date(text: str, order: DateOrder | None) -> date | None:
    """The date, or None where it is none under this order; a time of day is dropped.

    Without an order, day and month as numbers are read only if they are the same number.
    """
    plain = _CLOCK.sub("", text.strip())
    year_first = _YEAR_FIRST.fullmatch(plain) or _COMPACT.fullmatch(plain)
    if year_first:
        return _date(year_first[1], year_first[3], year_first[4])
    numeric = _NUMERIC.fullmatch(plain)
    if numeric:
        return _ordered(numeric[1], numeric[3], numeric[4], order)
    return _with_named_month(plain)


def parse_time(text: str) -> time | None:
    """A time of day such as "7:30", "07h30", "7h" or "2:15 pm"."""
    found = _TIME.fullmatch(text.strip().lower())
    if not found or not (found[2] or found[3] or "h" in found[0]):
        return None
    hour, minute, half = int(found[1]), int(found[2] or 0), found[3]
    if half and not 1 <= hour <= 12:
        return None
    hour = hour % 12 + 12 * (half == "p") if half else hour
    return time(hour, minute) if hour < 24 and minute < 60 else None


def _ordered(first: str, second: str, last: str, order: DateOrder | None) -> date | None:
    if order == "year-month-day":
        return _date(first, second, last) if len(first) == len(last) == 2 else None
    if order == "month-day-year":
        return _date(last, first, second)
    if order == "day-month-year":
        return _date(last, second, first)
    return _date(last, second, first) if int(first) == int(second) and len(last) == 4 else None


def _with_named_month(text: str) -> date | None:
    words = [word for word in fold(text).split() if word not in _FILLERS]
    months = [place for place, word in enumerate(words) if word in _MONTHS]
    if len(words) != 3 or len(months) != 1:
        return None
    month = _MONTHS[words.pop(months[0])]
    day, year = reversed(words) if len(words[0]) == 4 else words
    found = _DAY.fullmatch(day)
    return _date(year, str(month), found[1]) if found and _YEAR.fullmatch(year) else None


def _date(year: str, month: str, day: str) -> date | None:
    century = 2000 if len(year) == 2 else 0
    try:
        return date(century + int(year), int(month), int(day))
    except ValueError:
        return None


@lru_cache(maxsize=10_000)
def could_be_date(text: str) -> bool:
    """Whether there is an order in which this is a date."""
    orders: tuple[DateOrder, ...] = ("day-month-year", "month-day-year", "year-month-day")
    return any(parse_date(text, order) is not None for order in orders)


def with_year(text: str, year: int) -> str | None:
    """ "13/04" or "13 abr" as text of a whole date, or None where it is no day of a year."""
    numeric = re.fullmatch(r"[0-9]{1,2}([-/. ])[0-9]{1,2}", text)
    if numeric:
        return f"{text}{numeric[1]}{year}"
    has_month = any(word in _MONTHS for word in fold(text).split())
    return f"{text} {year}" if has_month and parse_date(f"{text} {year}", None) else None


def day_of_month(text: str, month: Month) -> date | None:
    """The day of that month, if the text is no more than its number."""
    if not re.fullmatch(r"[0-9]{1,2}(\.0)?", text):
        return None
    return _date(str(month.year), str(month.month), text.partition(".")[0])


def parse_month(text: str, year: int | None) -> Month | None:
    """The month that "Abril 2026", "04-2026" or, where the year is known, "abr" stands for."""
    numeric = _YEAR_AND_MONTH.fullmatch(text.strip())
    if numeric:
        written = numeric[1] or numeric[4], numeric[2] or numeric[3]
        return Month(int(written[0]), int(written[1])) if 1 <= int(written[1]) <= 12 else None
    words = [word for word in fold(text).split() if word not in _FILLERS]
    named = [word for word in words if word in _MONTHS]
    years = [word for word in words if _YEAR_OF_THIS_CENTURY.fullmatch(word)]
    if len(named) != 1 or len(named) + len(years) < len(words) or len(years) > 1:
        return None
    known = int(years[0]) if years else year
    return Month(known, _MONTHS[named[0]]) if known else None


def only_year(texts: Iterable[str]) -> int | None:
    """The one year that texts speak of; None for several, or for a span across New Year."""
    years = set()
    for text in texts:
        spans = [(int(one[1]), int(one[2])) for one in _ACROSS_NEW_YEAR.finditer(text)]
        if any(second == first + 1 for first, second in spans):
            return None
        years |= {int(one[0]) for one in _YEAR_OF_THIS_CENTURY.finditer(text)}
    return years.pop() if len(years) == 1 else None
