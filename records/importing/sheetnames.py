"""What a sheet's name says once for all of its rows: a block, a day, or the month of its days."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from records.importing.columns import FileKind, Kind
from records.importing.sheets import Cell
from records.importing.units import fold
from records.importing.wide import Known
from records.importing.written import could_be_date, only_year, parse_month

NO_YEAR = 1904  # a leap year: no day is lost


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is known by a sheet's name.

    Days of a `month_alone`, whose year is nowhere to be found, are taken in `NO_YEAR`, which is
    too early to pass for any.
    """

    known: Known
    month_alone: bool = False


def told_by_name(
    name: str,
    kind: FileKind,
    words: Mapping[str, Mapping[str, str]],
    *,
    beside: Sequence[str],
) -> Told:
    """Read a sheet's name; a missing year is the only one in it or in the texts `beside` it."""
    year = only_year([name]) or only_year(beside)
    month = parse_month(name, year)
    supplied: dict[str, Cell] = {}
    for over in kind.spread:
        found = (
            _date(name) if kind.by_name[over].kind is Kind.DATE else _word(name, over, kind, words)
        )
        if found:
            supplied[over] = found
    alone = None if month else parse_month(name, NO_YEAR)
    known = Known(words=words, supplied=supplied, month=month or alone, year=year)
    return Told(known=known, month_alone=alone is not None)


def _date(name: str) -> str | None:
    return name.strip() if could_be_date(name.strip()) else None


def _word(
    name: str, over: str, kind: FileKind, words: Mapping[str, Mapping[str, str]]
) -> str | None:
    """A code or name of the farm's, alone or behind its title: "P1", "Talhão P1"."""
    folded = fold(name)
    title, _, rest = folded.partition(" ")
    column = kind.by_synonym.get(title)
    known = words.get(over, {})
    return known.get(folded) or (known.get(rest) if column and column.name == over else None)
