"""Which heading of a sheet is which column: the matching, for any kind of file."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, auto
from functools import cached_property, lru_cache
from itertools import takewhile

from records.importing.sheets import FileRefused, Row, Sheet, column_letters, printable
from records.importing.units import fold, unit_spelled

HEADING_WITHIN_ROWS = 30  # a title, an address, a logo's blank rows: more than any sheet has seen
MAX_HEADING_CHARS = 200


class Kind(Enum):
    DATE = auto()
    TEXT = auto()
    WEIGHT = auto()
    COUNT = auto()
    UNIT = auto()
    PEOPLE = auto()
    NUMBER = auto()
    CHOICE = auto()


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

    Columns of a group in `exclusive` say the same thing, so that a file may have only one.
    """

    columns: tuple[Column, ...]
    required: tuple[tuple[str, ...], ...]
    exclusive: tuple[tuple[str, ...], ...] = ()

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading as the sender wrote it, where it stands, and the column it became."""

    text: str
    index: int
    column: Column
    unit: str | None = None


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


_COUNT_WORDS = r"n o|no|nr|num|numero|number|cantidad|quantidade|qtd|qty"
_LEADING_COUNT = re.compile(rf"(?:{_COUNT_WORDS})(?: (?:of|de|do|da|del))? (.+)")
_TRAILING_COUNT = re.compile(r"(.+) (?:n o|no|nr|num|numero|number)")
_IN_BRACKETS = re.compile(r"[(\[{][^)\]}]*[)\]}]")
_JOINING_WORDS = frozenset({"in", "en", "em", "de", "of"})


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
    texts = _heading_texts(row)
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
        problems=(*_unknown_columns(texts, kind, mapped), *_ambiguities(found, kind)),
        width=texts[-1][0] + 1 if texts else 0,
    )


def find_headings(
    sheet: Sheet, kind: FileKind, mapping: Mapping[str, str], heading_row: int | None = None
) -> tuple[int, HeadingMap]:
    """The row number and columns of the first row with all required headings.

    Where no row has them all, it is the row with the most, if that is at least two: the report
    then says what is missing. A caller's `heading_row` is taken as it is.
    """
    last = heading_row or HEADING_WITHIN_ROWS
    best: tuple[int, HeadingMap] | None = None
    for number, row in takewhile(lambda numbered: numbered[0] <= last, sheet.rows()):
        if heading_row and number != heading_row:
            continue
        found = match_headings(row, kind, mapping)
        if heading_row or not found.missing:
            return number, found
        if len(found.used) > (len(best[1].used) if best else 1):
            best = number, found
    if best is None:
        raise _no_heading_row(sheet, kind, heading_row)
    return best


def known_headings(row: Row, kind: FileKind, mapping: Mapping[str, str]) -> int:
    """How many columns a row names, should it be the heading row."""
    used = match_headings(row, kind, mapping).used
    return len({heading.column.name for heading in used})


def _heading_texts(row: Row) -> list[tuple[int, str]]:
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
    unit = _split_unit(text)[0] if column.kind is Kind.WEIGHT else None
    return Heading(text=text, index=index, column=column, unit=unit)


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
    unit, rest = _split_unit(text)
    if unit is not None:
        return kind.weights_by_word.get(rest), unit
    column = kind.by_synonym.get(heading_key(_IN_BRACKETS.sub(" ", text)))
    return (column, None) if column and column.kind is not Kind.WEIGHT else (None, None)


def _split_unit(text: str) -> tuple[str | None, str]:
    """The one unit that a heading names, and its other words; "Kilos" alone is a weight."""
    words = fold(text).split()
    places = [place for place, word in enumerate(words) if unit_spelled(word)]
    if len(places) != 1:
        return None, ""
    place = places[0]
    before, after = words[:place], words[place + 1 :]
    if before and before[-1] in _JOINING_WORDS:
        before.pop()
    if after and after[0] in _JOINING_WORDS:
        after.pop(0)
    rest = " ".join(before + after)
    if not rest:
        rest = "weight" if len(words[place]) > 1 else ""
    return unit_spelled(words[place]), rest


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
        if name is not None and name not in kind.by_name
    ]


def _ambiguities(found: list[Heading], kind: FileKind) -> list[HeadingProblem]:
    grouped = {name for group in kind.exclusive for name in group}
    alone = [(column.name,) for column in kind.columns if column.name not in grouped]
    groups = [*alone, *kind.exclusive]
    contests = [[one for one in found if one.column.name in group] for group in groups]
    return [_ambiguity(contest) for contest in contests if len(contest) > 1]


def _ambiguity(contest: list[Heading]) -> HeadingProblem:
    names = list(dict.fromkeys(heading.column.name for heading in contest))
    places = " and ".join(f'"{one.text}" ({column_letters(one.index)})' for one in contest)
    return HeadingProblem(
        code="ambiguous-headings",
        headings=tuple(heading.text for heading in contest),
        detail=f"{places} could each be the {' or '.join(names)} column. "
        "Rename one, or map the right one.",
    )


def _no_heading_row(sheet: Sheet, kind: FileKind, heading_row: int | None) -> FileRefused:
    needed = "; ".join(" or ".join(group) for group in kind.required)
    where = f"row {heading_row}" if heading_row else f"the first {HEADING_WITHIN_ROWS} rows"
    named = f' of the sheet "{sheet.name}"' if sheet.name else ""
    return FileRefused(
        "no-heading-row",
        f"No headings were recognised in {where}{named}. Needed are columns for: {needed}. "
        "Name them so, or map your own headings to them.",
    )
