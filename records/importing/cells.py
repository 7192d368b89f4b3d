"""One cell to one value of its column's kind, or the fault that is in it."""

import re
import unicodedata
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache, partial
from typing import NamedTuple, TypeAlias

from records.importing.columns import MEASURES, Column, Kind
from records.importing.marks import Marks
from records.importing.sheets import Cell, as_written
from records.importing.units import GRAMS, fold, unit_spelled
from records.importing.written import DateOrder, DecimalMark, parse_date, parse_number, parse_time

FIRST_DATE = date(1950, 1, 1)
MAX_PICKERS = 30
MAX_WEIGHING_G = 5_000_000  # five tonnes in one weighing is a slip of the pen
WEIGHT_PLACES = Decimal("0.0001")  # a tenth of a gram in kilograms, finer than any orchard scale
MAX_CACHED = 10_000

# What spreadsheet programs write into a cell that cannot be worked out, in our three languages.
ERROR_TEXTS = frozenset(
    {
        *("#N/A", "#N/D", "#ND", "#VALUE!", "#VALOR!", "#¡VALOR!", "#REF!", "#¡REF!"),
        *("#DIV/0!", "#¡DIV/0!", "#NAME?", "#NOME?", "#¿NOMBRE?", "#NUM!", "#NÚM!", "#¡NUM!"),
        *("#NULL!", "#NULO!", "#¡NULO!", "#SPILL!", "#CALC!"),
    }
)
_OFFICE_ERROR = re.compile(r"Err:[0-9]{3}")
_SERIAL = re.compile(r"[0-9]{5}([.,][0-9]+)?")
_SHORT_YEAR = re.compile(r"[0-9]{1,2}[-/. ][0-9]{1,2}[-/. ][0-9]{2}")
_DASHES = " -\N{EN DASH}\N{EM DASH}"
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
# What stands before a text that a spreadsheet would else run as a formula (OWASP ASVS 5.0, 1.2.10).
_NEUTRALISED = re.compile(r"'(?='*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20])")
_INVISIBLE = str.maketrans("", "", "\u00ad\u200b\u2060\ufeff")


class Fault(NamedTuple):
    """What is wrong with a cell: a stable code, and a sentence that says what would be right."""

    code: str
    detail: str


TOO_HEAVY = Fault("too-heavy", "No single weighing is above 5,000 kg. Check number and unit.")

Value: TypeAlias = str | Decimal | int | date | time | tuple[str, ...] | None


def cell_reader(
    column: Column, marks: Marks, today: date, *, remembered: int = MAX_CACHED
) -> Callable[[Cell], Value | Fault]:
    """The reading of one column's cells; a blank cell is "" for text, () for people, else None."""
    read: dict[Kind, Callable[[Cell], Value | Fault]] = {
        Kind.DATE: partial(
            _read_date, order=marks.date_order, latest=None if column.may_be_future else today
        ),
        Kind.TEXT: partial(_read_text, max_chars=column.max_chars),
        Kind.WEIGHT: partial(_read_weight, mark=marks.decimal_mark),
        Kind.COUNT: partial(_read_count, mark=marks.decimal_mark, column=column),
        Kind.UNIT: _read_unit,
        Kind.PEOPLE: partial(_read_people, max_chars=column.max_chars),
        Kind.TIME: _read_time,
        Kind.CHOICE: partial(_read_choice, column=column),
        **dict.fromkeys(
            (Kind.NUMBER, *MEASURES),
            partial(_read_bounded, mark=marks.decimal_mark, column=column),
        ),
    }
    # Blocks, dates and weights repeat; typed, because True, 1 and 1.0 are equal keys.
    return lru_cache(maxsize=remembered, typed=True)(partial(_unless_error, read[column.kind]))


def number_reader(marks: Marks) -> Callable[[Cell], Value | Fault]:
    """The reading of numbers that no column bounds, such as totals."""
    read = partial(_unless_error, partial(_read_number, mark=marks.decimal_mark))
    return lru_cache(maxsize=MAX_CACHED, typed=True)(read)


def _unless_error(read: Callable[[Cell], Value | Fault], cell: Cell) -> Value | Fault:
    if isinstance(cell, str) and _is_error(cell.strip()):
        return Fault(
            "spreadsheet-error",
            "The spreadsheet could not work out this cell. Mend its formula or type the value.",
        )
    return read(cell)


def _is_error(text: str) -> bool:
    return text.upper() in ERROR_TEXTS or bool(_OFFICE_ERROR.fullmatch(text))


def tidy(text: str) -> str:
    """Composed (NFC), stripped, with single spaces and without characters of no width."""
    if not text.isascii():
        text = unicodedata.normalize("NFC", text.translate(_INVISIBLE))
    return " ".join(text.split())


def _read_text(cell: Cell, *, max_chars: int) -> str | Fault:
    if isinstance(cell, date | time | timedelta):
        return Fault(
            "date-for-text",
            "The spreadsheet made this a date or time. Format the cell as text and type it again.",
        )
    return _kept(_as_meant(cell), max_chars)


def _as_meant(cell: Cell) -> str:
    """A cell as text, without the apostrophe that keeps it from running as a formula."""
    text = as_written(cell)
    return text[1:] if _NEUTRALISED.match(text) else text


def _kept(text: str, max_chars: int) -> str | Fault:
    """A text tidied, unless it is too long or has what cannot be seen."""
    text = tidy(text)
    if len(text) > max_chars:
        return Fault("text-too-long", f"At most {max_chars} characters are kept here.")
    if _CONTROL.search(text):
        return Fault("control-character", "The cell holds a character that cannot be seen.")
    return text


def _read_people(cell: Cell, *, max_chars: int) -> tuple[str, ...] | Fault:
    """Names parted by semicolons or lines; where there are none, by commas, "/", "&" or "+"."""
    text = _as_meant(cell).strip()
    separators = r"[;\n]" if re.search(r"[;\n]", text) else r"[,/&+|]"
    names = []
    for part in re.split(separators, text):
        name = _kept(part, max_chars)
        if isinstance(name, Fault):
            return name
        names.append(name)
    found = tuple(dict.fromkeys(filter(None, names)))
    if len(found) > MAX_PICKERS:
        return Fault("too-many-people", f"At most {MAX_PICKERS} people can share a row.")
    return found


def _read_unit(cell: Cell) -> str | Fault:
    text = as_written(cell)
    unit = unit_spelled(fold(text))
    if unit is None and text.strip():
        return Fault("unknown-unit", f"This is no unit known here. Use one of {', '.join(GRAMS)}.")
    return unit or ""


def _read_number(cell: Cell, mark: DecimalMark | None) -> Decimal | Fault | None:
    if isinstance(cell, bool | date | time | timedelta):
        return Fault("not-a-number", "A number is needed here.")
    text = as_written(cell).strip()
    if not text:
        return None
    if isinstance(cell, str):
        number = parse_number(text, mark or ".")
        return _number_fault(text, mark) if number is None else number
    number = Decimal(text)
    return number if number.is_finite() else Fault("not-a-number", "A number is needed here.")


def _number_fault(text: str, mark: DecimalMark | None) -> Fault:
    other: DecimalMark = "." if mark == "," else ","
    if mark and parse_number(text, other) is not None:
        name = "comma" if mark == "," else "point"
        return Fault(
            "decimal-mark-conflict",
            f"The file is read with a decimal {name}, which this number does not have. "
            f"Write it with a decimal {name}, or change the setting.",
        )
    return Fault("not-a-number", "A number is needed here, without unit or other words.")


def _read_weight(cell: Cell, *, mark: DecimalMark | None) -> Decimal | Fault | None:
    number = _read_number(cell, mark)
    if isinstance(number, Decimal) and number < 0:
        return Fault("negative", "A weight cannot be negative.")
    if isinstance(number, Decimal) and number > MAX_WEIGHING_G:  # too heavy even in grams
        return TOO_HEAVY
    return number


def _read_count(cell: Cell, *, mark: DecimalMark | None, column: Column) -> int | Fault | None:
    number = _read_number(cell, mark)
    if not isinstance(number, Decimal):
        return number
    if number < 0:
        return Fault("negative", "A number below zero makes no sense here.")
    if number != number.to_integral_value():
        return Fault("not-whole", "A whole number is needed here.")
    bounded = _bounded(number, column)
    return bounded if isinstance(bounded, Fault) else int(bounded)


def _read_bounded(
    cell: Cell, *, mark: DecimalMark | None, column: Column
) -> Decimal | Fault | None:
    if isinstance(cell, str) and not cell.strip(_DASHES):
        return None  # how a weather station says that a reading is missing
    number = _read_number(cell, mark)
    return _bounded(number, column) if isinstance(number, Decimal) else number


def _bounded(number: Decimal, column: Column) -> Decimal | Fault:
    if column.smallest <= number <= column.largest:
        return number
    bounds = f"{column.smallest:,} and {column.largest:,}"
    return Fault("out-of-range", f"The number must lie between {bounds}.")


def _read_choice(cell: Cell, *, column: Column) -> str | Fault | None:
    text = tidy(as_written(cell))
    if not text:
        return None
    found = column.by_spelling.get(fold(text))
    if found is None:
        return Fault("unknown-choice", f"Use one of: {', '.join(column.choices)}.")
    return found


def _read_time(cell: Cell) -> time | Fault | None:
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    text = as_written(cell).strip()
    found = parse_time(text)
    if found is None and text:
        return Fault("not-a-time", "A time of day is needed here, for example 07:30.")
    return found


def _read_date(cell: Cell, *, order: DateOrder | None, latest: date | None) -> date | Fault | None:
    if isinstance(cell, datetime):
        cell = cell.date()
    if not isinstance(cell, date):
        if isinstance(cell, bool | time | timedelta):
            return _date_fault("", order)
        text = as_written(cell).strip()
        if not text:
            return None
        found = parse_date(text, order)
        if found is None:
            return _date_fault(text, order)
        cell = found
    if latest and cell > latest:
        return Fault("date-in-future", f"Nothing can be dated after today, {latest}.")
    if cell < FIRST_DATE:
        return Fault("date-too-early", f"No date before {FIRST_DATE.year} is taken.")
    return cell


def _date_fault(text: str, order: DateOrder | None) -> Fault:
    if _SERIAL.fullmatch(text):
        return Fault(
            "date-serial",
            "This is a spreadsheet's day number. Format the column as a date and save again.",
        )
    if order and _reads_otherwise(text, order):
        return Fault(
            "date-order-conflict",
            f"The file is read as {order}, which does not fit this date. "
            f"Write it so or as year-month-day, or change the setting.",
        )
    if not order and _SHORT_YEAR.fullmatch(text):
        return Fault("short-year", "Write the year with four digits, for example 2026-04-13.")
    return Fault("not-a-date", "A date of the calendar is needed here, for example 2026-04-13.")


def _reads_otherwise(text: str, order: DateOrder) -> bool:
    others: tuple[DateOrder, ...] = ("day-month-year", "month-day-year")
    return any(parse_date(text, other) is not None for other in others if other != order)


def round_weight(weight: Decimal, unit: str) -> Decimal | Fault:
    """A weight with at most four decimals, unless dropping more would move it by half a gram."""
    rounded = weight.quantize(WEIGHT_PLACES, rounding=ROUND_HALF_EVEN)
    if rounded == weight:
        return weight
    if abs(rounded - weight) * GRAMS[unit] >= Decimal("0.5"):
        return Fault("too-many-decimals", f"At most four decimals of {unit} are kept. Use kg.")
    return rounded
