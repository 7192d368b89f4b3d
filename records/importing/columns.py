"""Which heading of a sheet is which column: the matching, for any kind of file."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum, auto
from functools import cached_property, lru_cache

from records.importing.sheets import Cell, Row, column_letters, printable
from records.importing.units import LENGTHS, SPEEDS, TEMPERATURES, fold, unit_spelled

MAX_HEADING_CHARS = 200
LEAVE_OUT = ""  # what a heading is mapped to whose column is not to be read


class Kind(Enum):
    DATE = auto()
    TEXT = auto()
    WEIGHT = auto()
    COUNT = auto()
    UNIT = auto()
    PEOPLE = auto()
    NUMBER = auto()
    TEMPERATURE = auto()
    LENGTH = auto()
    SPEED = auto()
    TIME = auto()
    CHOICE = auto()


# How the units of a kind of column are spelled, in headings and in columns of their own.
MEASURES: Mapping[Kind, Mapping[str, str]] = {
    Kind.TEMPERATURE: TEMPERATURES,
    Kind.LENGTH: LENGTHS,
    Kind.SPEED: SPEEDS,
}
NUMBERS = frozenset({Kind.WEIGHT, Kind.COUNT, Kind.NUMBER, *MEASURES})


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a kind of file.

    `synonyms` are headings in English, Spanish and Portuguese; `synonyms_with_unit` mean this
    column only beside a unit ("Harvest (kg)"). Text is at most `max_chars` long; a count or number
    lies between `smallest` and `largest`. A choice is one of `choices`, {value: spellings}, parted
    by commas. Only a date that `may_be_future` lies after today.
    """

    name: str
    kind: Kind
    synonyms: tuple[str, ...]
    synonyms_with_unit: tuple[str, ...] = ()
    max_chars: int = 0
    smallest: int = 0
    largest: int = 0
    choices: Mapping[str, str] = field(default_factory=dict)
    may_be_future: bool = False

    @cached_property
    def by_spelling(self) -> dict[str, str]:
        return {
            fold(word): value
            for value, words in self.choices.items()
            for word in (value, *words.split(","))
        }


@dataclass(frozen=True, kw_only=True)
class FileKind:
    """The columns of a kind of file; of each group in `required`, at least one must be there.

    Columns of a group in `exclusive` say the same thing, so that a file may have only one. A row
    of the file is a `noun`. `needed` are columns that each row must fill in, by what they are
    called; the `carried` ones may be left blank where they repeat the row above. `amounts` are
    what a row is about: at least one is filled in, and totals are sums of `added_up`. `spread`
    are columns whose values may be headings instead, each above `spread_amounts` of its own, or
    else `amounts`; what is said `once` of such a row counts for the first of them only. Where it
    `is_gathered`, such a row stays one, with all of them in it.
    """

    columns: tuple[Column, ...]
    required: tuple[tuple[str, ...], ...]
    exclusive: tuple[tuple[str, ...], ...] = ()
    noun: str = "row"
    needed: Mapping[str, str] = field(default_factory=dict)
    carried: tuple[str, ...] = ()
    amounts: tuple[str, ...] = ()
    added_up: tuple[str, ...] = ()
    spread: tuple[str, ...] = ()
    once: tuple[str, ...] = ()
    spread_amounts: tuple[str, ...] = ()
    is_gathered: bool = False

    @cached_property
    def by_name(self) -> dict[str, Column]:
        return {column.name: column for column in self.columns}

    @cached_property
    def by_synonym(self) -> dict[str, Column]:
        return {
            heading_key(word): column
            for column in self.columns
            for word in (column.name, *column.synonyms)
        }

    @cached_property
    def weights_by_word(self) -> dict[str, Column]:
        return {
            fold(word): column
            for column in self.columns
            if column.kind is Kind.WEIGHT
            for word in (column.name, *column.synonyms, *column.synonyms_with_unit)
        }

    @cached_property
    def below_spread(self) -> tuple[Column, ...]:
        """What may stand below a heading that is a value; the first where nothing is said."""
        return tuple(self.by_name[name] for name in self.spread_amounts or self.amounts)

    @cached_property
    def amounts_by_word(self) -> dict[str, Column]:
        return {
            fold(word): column
            for column in self.below_spread
            for word in (column.name, *column.synonyms, *column.synonyms_with_unit)
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading as the sender wrote it, where it stands, and the column it became.

    In a wide sheet, the cells below it are of `column`, all of them for one `value` of the column
    `over`: kilos of the grade "Extra".
    """

    text: str
    index: int
    column: Column
    unit: str | None = None
    over: str = ""
    value: Cell = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingProblem:
    """Headings that cannot be told apart or understood."""

    code: str
    headings: tuple[str, ...]
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingMap:
    """What became of a heading row, which is `width` cells wide.

    Each entry of `missing` lists columns of which one is needed.
    """

    used: tuple[Heading, ...]
    unused: tuple[str, ...]
    missing: tuple[tuple[str, ...], ...]
    problems: tuple[HeadingProblem, ...]
    width: int

    def heading(self, name: str) -> Heading | None:
        return next((heading for heading in self.used if heading.column.name == name), None)

    @property
    def fixed(self) -> tuple[Heading, ...]:
        """Those that say one thing for the whole row."""
        return tuple(heading for heading in self.used if not heading.over)

    @property
    def wide(self) -> tuple[Heading, ...]:
        return tuple(heading for heading in self.used if heading.over)


_COUNT_WORDS = r"n o|no|nr|num|numero|number|cantidad|quantidade|qtd|qty"
_LEADING_COUNT = re.compile(rf"(?:{_COUNT_WORDS})(?: (?:of|de|do|da|del))? (.+)")
_TRAILING_COUNT = re.compile(r"(.+) (?:n o|no|nr|num|numero|number)")
IN_BRACKETS = re.compile(r"[(\[{][^)\]}]*[)\]}]")
JOINING_WORDS = frozenset({"in", "en", "em", "de", "of"})


@lru_cache(maxsize=10_000)
def heading_key(text: str) -> str:
    """A heading folded, with "N.º de", "number of" and their like written one way."""
    key = fold(text)
    counted = _LEADING_COUNT.fullmatch(key) or _TRAILING_COUNT.fullmatch(key)
    return f"no {counted[1]}" if counted else key


def match_headings(row: Row, kind: FileKind, mapping: Mapping[str, str]) -> HeadingMap:
    """Give each cell of a heading row its column.

    `mapping` says {heading: column name}, is compared as loosely as the synonyms are, and wins
    over them.
    """
    mapped = {heading_key(heading): name for heading, name in mapping.items()}
    texts = heading_texts(row)
    taken = _taken(texts, kind, mapped)
    matched = [
        (text, _mapped(text, index, kind, mapped) or _matched(text, index, kind, taken, mapped))
        for index, text in texts
    ]
    found = [heading for _, heading in matched if heading]
    names = {heading.column.name for heading in found}
    return HeadingMap(
        used=tuple(found),
        unused=tuple(text for text, heading in matched if heading is None),
        missing=tuple(group for group in kind.required if names.isdisjoint(group)),
        problems=(*_unknown_columns(texts, kind, mapped), *ambiguities(found, kind)),
        width=texts[-1][0] + 1 if texts else 0,
    )


def heading_texts(row: Row) -> list[tuple[int, str]]:
    """The texts of a row that are short enough for headings, by where they stand."""
    cells = ((index, cell) for index, cell in enumerate(row) if isinstance(cell, str))
    lines = ((index, printable(cell[: 2 * MAX_HEADING_CHARS])) for index, cell in cells)
    return [(index, text) for index, text in lines if 0 < len(text) <= MAX_HEADING_CHARS]


def _taken(
    texts: list[tuple[int, str]], kind: FileKind, mapped: Mapping[str, str]
) -> frozenset[str]:
    """The columns that mapped headings fill, with those that would say the same."""
    names = {mapped.get(heading_key(text), "") for _, text in texts}
    same = (group for group in kind.exclusive if not names.isdisjoint(group))
    return frozenset(names.union(*same))


def _mapped(text: str, index: int, kind: FileKind, mapped: Mapping[str, str]) -> Heading | None:
    column = kind.by_name.get(mapped.get(heading_key(text), ""))
    if column is None:
        return None
    return Heading(text=text, index=index, column=column, unit=_unit_in(text, column))


def _unit_in(text: str, column: Column) -> str | None:
    if column.kind is Kind.WEIGHT:
        return split_unit(text)[0]
    words = fold(text).split()
    tails = (" ".join(words[-count:]) for count in (1, 2))
    return next(filter(None, (measure_spelled(column.kind, tail) for tail in tails)), None)


def _matched(
    text: str, index: int, kind: FileKind, taken: frozenset[str], mapped: Mapping[str, str]
) -> Heading | None:
    if heading_key(text) in mapped:
        return None
    column, unit = _by_synonym(text, kind)
    if column is None or column.name in taken:
        return None
    return Heading(text=text, index=index, column=column, unit=unit)


def _by_synonym(text: str, kind: FileKind) -> tuple[Column | None, str | None]:
    """A heading that names a unit can only be a weight, whatever its other words."""
    column = kind.by_synonym.get(heading_key(text))
    if column is not None:
        return column, None
    unit, rest = split_unit(text) if kind.weights_by_word else (None, "")
    if unit is not None:
        return kind.weights_by_word.get(rest), unit
    measured, unit = _measured(text, kind)
    if measured is not None:
        return measured, unit
    column = kind.by_synonym.get(heading_key(IN_BRACKETS.sub(" ", text)))
    return (column, None) if column and column.kind is not Kind.WEIGHT else (None, None)


def split_unit(text: str) -> tuple[str | None, str]:
    """The one unit that a heading names, and its other words; "Kilos" alone is a weight."""
    words = fold(text).split()
    places = [place for place, word in enumerate(words) if unit_spelled(word)]
    if len(places) != 1:
        return None, ""
    place = places[0]
    before, after = words[:place], words[place + 1 :]
    if before and before[-1] in JOINING_WORDS:
        before.pop()
    if after and after[0] in JOINING_WORDS:
        after.pop(0)
    rest = " ".join(before + after)
    if not rest:
        rest = "weight" if len(words[place]) > 1 else ""
    return unit_spelled(words[place]), rest


def _measured(text: str, kind: FileKind) -> tuple[Column | None, str | None]:
    """ "Tmax (°F)" is a column of temperatures, and in which unit."""
    words = fold(text).split()
    for count in (1, 2):
        column = kind.by_synonym.get(" ".join(words[:-count]))
        spelled = " ".join(words[-count:])
        if column is not None and (unit := measure_spelled(column.kind, spelled)):
            return column, unit
    return None, None


@lru_cache(maxsize=1_000)
def measure_spelled(kind: Kind, words: str) -> str | None:
    """The unit of a kind of column that folded words stand for."""
    spellings = MEASURES.get(kind, {})
    return next(
        (unit for unit, known in spellings.items() if words in map(fold, known.split())), None
    )


def spread_name(name: str, kind: FileKind) -> tuple[Column, str, str] | None:
    """What "net by grade" or "net by grade: Extra" maps a heading to; "" where it is the value."""
    meant, _, value = name.partition(":")
    amount, by, over = meant.strip().partition(" by ")
    column = next((one for one in kind.below_spread if one.name == amount), None)
    if not by or column is None or over not in kind.spread:
        return None
    return column, over, value.strip()


def _unknown_columns(
    texts: list[tuple[int, str]], kind: FileKind, mapped: Mapping[str, str]
) -> list[HeadingProblem]:
    named = ((text, mapped.get(heading_key(text))) for _, text in texts)
    return [
        HeadingProblem(
            code="unknown-column",
            headings=(text,),
            detail=f'"{text}" is mapped to "{name}", which is no column here.',
        )
        for text, name in named
        if name and not _is_known(name, kind)
    ]


def _is_known(name: str, kind: FileKind) -> bool:
    return name in kind.by_name or spread_name(name, kind) is not None


def ambiguities(found: Sequence[Heading], kind: FileKind) -> list[HeadingProblem]:
    """Headings that claim one column, or columns that say the same."""
    grouped = {name for group in kind.exclusive for name in group}
    alone = [(column.name,) for column in kind.columns if column.name not in grouped]
    groups = [*alone, *kind.exclusive]
    contests = [[one for one in found if one.column.name in group] for group in groups]
    return [_ambiguity(contest) for contest in contests if len(contest) > 1]


def _ambiguity(contest: Sequence[Heading]) -> HeadingProblem:
    names = list(dict.fromkeys(heading.column.name for heading in contest))
    places = " and ".join(f'"{one.text}" ({column_letters(one.index)})' for one in contest)
    return HeadingProblem(
        code="ambiguous-headings",
        headings=tuple(heading.text for heading in contest),
        detail=f"{places} could each be the {' or '.join(names)} column. "
        "Rename one, or map the right one.",
    )
