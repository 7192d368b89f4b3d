"""Wide sheets: headings that name a grade, a block or a day, each with amounts of its own."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cache
from typing import NamedTuple

from records.importing.columns import (
    IN_BRACKETS,
    JOINING_WORDS,
    Column,
    FileKind,
    Heading,
    HeadingMap,
    HeadingProblem,
    Kind,
    ambiguities,
    heading_key,
    heading_texts,
    match_headings,
    split_unit,
    spread_name,
)
from records.importing.sheets import Cell, Row, as_written, column_letters, is_filled, printable
from records.importing.totalwords import says_total
from records.importing.units import fold, unit_spelled
from records.importing.written import Month, could_be_date, day_of_month, with_year

NAMED = 5  # headings named in a sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of a sheet before its headings are read.

    `words` are the farm's own codes and names by column, {folded: as the farm writes it};
    `supplied` is what the sheet's name says once for all rows. Days that are mere numbers lie in
    `month`, and those without a year in `year`.
    """

    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    supplied: Mapping[str, Cell] = field(default_factory=dict)
    month: Month | None = None
    year: int | None = None


NOTHING_KNOWN = Known()


class Meaning(NamedTuple):
    """What a wide sheet's heading says: the amounts below it, and for which value."""

    column: Column
    unit: str | None
    value: Cell


def understand(
    row: Row, kind: FileKind, mapping: Mapping[str, str], known: Known = NOTHING_KNOWN
) -> HeadingMap:
    """Give each cell of a heading row its column, or the value whose amounts stand below it."""
    plain = match_headings(row, kind, mapping)
    options = _options(row, kind, mapping, known, plain)
    over, problems = _choose(options, plain, kind, known)
    wide = options.get(over, [])
    fixed = plain.used if wide else tuple(one for one in plain.used if one.column.name != "total")
    if wide:
        rest = unclaimed(row, {one.index for one in (*fixed, *wide)}, mapping)
        problems += [*_doubled(wide), *_beside(fixed, wide, kind), *_strays(rest, wide, options)]
    used = tuple(sorted((*fixed, *wide), key=lambda heading: heading.index))
    texts = heading_texts(row)
    indexes = {heading.index for heading in used}
    names = {heading.column.name for heading in used} | {over} | set(known.supplied)
    return replace(
        plain,
        used=used,
        unused=tuple(text for index, text in texts if index not in indexes),
        missing=_missing(kind, names),
        problems=(*plain.problems, *problems),
        width=max(plain.width, *(index + 1 for index in indexes), 0),
    )


def _missing(kind: FileKind, names: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    return tuple(group for group in kind.required if set(group).isdisjoint(names))


def unclaimed(row: Row, taken: set[int], mapping: Mapping[str, str]) -> list[tuple[int, str, Cell]]:
    """The cells that no column took and no mapping speaks of, as texts and as they are."""
    keys = {heading_key(heading) for heading in mapping}
    cells = ((index, cell) for index, cell in enumerate(row) if index not in taken)
    texts = ((index, printable(as_written(cell)), cell) for index, cell in cells if is_filled(cell))
    return [one for one in texts if heading_key(one[1]) not in keys and not says_total(one[1])]


def _mapped(row: Row, kind: FileKind, mapping: Mapping[str, str]) -> list[Heading]:
    """The headings that a mapping says to be wide."""
    meant = {heading_key(text): spread_name(name, kind) for text, name in mapping.items()}
    found = []
    for index, cell in enumerate(row):
        text = printable(as_written(cell))
        if spread := meant.get(heading_key(text)):
            column, over, value = spread
            unit = _unit(text) if column.kind is Kind.WEIGHT else None
            own = value or (cell if isinstance(cell, date) else _without_unit(text))
            meaning = Meaning(column, unit, own)
            found.append(Heading(text=text, index=index, over=over, **meaning._asdict()))
    return found


def _options(
    row: Row, kind: FileKind, mapping: Mapping[str, str], known: Known, plain: HeadingMap
) -> dict[str, list[Heading]]:
    """By column, the headings that are its values by the mapping, or could be."""
    options: dict[str, list[Heading]] = defaultdict(list)
    for heading in _mapped(row, kind, mapping):
        options[heading.over].append(heading)
    wanted = tuple(options) or kind.spread
    for index, text, cell in unclaimed(row, {one.index for one in plain.used}, mapping):
        for over in wanted:
            meaning = _meaning(cell, text, over, kind, known)
            if meaning:
                heading = Heading(text=text, index=index, over=over, **meaning._asdict())
                options[over].append(heading)
    return {over: sorted(found, key=lambda one: one.index) for over, found in options.items()}


def _meaning(cell: Cell, text: str, over: str, kind: FileKind, known: Known) -> Meaning | None:
    if kind.by_name[over].kind is Kind.DATE:
        return _day(cell, text, kind, known)
    return _word(text, over, kind, known.words.get(over, {}))


def _word(text: str, over: str, kind: FileKind, known: Mapping[str, str]) -> Meaning | None:
    """A heading with one of the farm's words in it: "Extra", "Extra (kg)", "Frutos Extra"."""
    if not known:
        return None
    for unit, words in _readings(text):
        for column, rest in _amounts(words, kind):
            value = known.get(rest) or known.get(_without_title(rest, over, kind))
            if value and (unit is None or column.kind is Kind.WEIGHT):
                return Meaning(column, unit, value)
    return None


def _readings(text: str) -> Iterator[tuple[str | None, list[str]]]:
    """A heading's words as they are, then without the unit at their end or beginning."""
    words = fold(text).split()
    yield None, words
    for place, rest in ((-1, words[:-1]), (0, words[1:])):
        unit = unit_spelled(words[place]) if rest else None
        if unit:
            joined = rest[place] in JOINING_WORDS and len(rest) > 1
            yield unit, (rest[:-1] if place else rest[1:]) if joined else rest


def _amounts(words: Sequence[str], kind: FileKind) -> Iterator[tuple[Column, str]]:
    """The words with no amount named, which is a weight, then with one before or behind them."""
    yield kind.below_spread[0], " ".join(words)
    for cut in range(1, len(words)):
        first, last = " ".join(words[:cut]), " ".join(words[cut:])
        if column := kind.amounts_by_word.get(first):
            yield column, last
        if column := kind.amounts_by_word.get(last):
            yield column, first


def _without_title(words: str, over: str, kind: FileKind) -> str:
    """ "Talhão P1" is the block P1."""
    title, _, rest = words.partition(" ")
    column = kind.by_synonym.get(title)
    return rest if column and column.name == over else ""


def _day(cell: Cell, text: str, kind: FileKind, known: Known) -> Meaning | None:
    """A heading that is a day, as a date or as text still to be read in the file's order."""
    amount = kind.below_spread[0]
    if isinstance(cell, date):
        return Meaning(amount, None, cell.date() if isinstance(cell, datetime) else cell)
    plain = _without_unit(text)
    in_month = known.month and day_of_month(plain, known.month)
    if in_month:
        return Meaning(amount, _unit(text), in_month)
    in_year = with_year(plain, known.year) if known.year else None
    for written in (plain, in_year):
        if written and could_be_date(written):
            return Meaning(amount, _unit(text), written)
    return None


def _unit(text: str) -> str | None:
    """The unit in brackets, or at the end of a heading of several words."""
    bracketed = IN_BRACKETS.search(text)
    words = fold(bracketed[0] if bracketed else text).split()
    return unit_spelled(words[-1]) if words and (bracketed or len(words) > 1) else None


def _without_unit(text: str) -> str:
    plain = IN_BRACKETS.sub(" ", text).strip()
    words = plain.split()
    if len(words) > 1 and unit_spelled(fold(words[-1])):
        words.pop()
    return " ".join(words)


def _choose(
    options: Mapping[str, list[Heading]], plain: HeadingMap, kind: FileKind, known: Known
) -> tuple[str, list[HeadingProblem]]:
    """The column that headings are values of, "" for none; a problem if it could be two.

    One that has a column of its own is out, and one that leaves needed columns missing gives way
    to one that does not.
    """
    names = {heading.column.name for heading in plain.used}
    seen = {over: found for over, found in options.items() if over not in names}
    sure = {over: found for over, found in seen.items() if plain.used or len(found) > 1}

    @cache
    def leaves_nothing_missing(over: str) -> bool:
        amounts = {heading.column.name for heading in sure[over]}
        return not _missing(kind, names | amounts | {over} | set(known.supplied))

    complete = [over for over in sure if leaves_nothing_missing(over)]
    if len(complete) > 1:
        complete = [over for over in complete if over not in known.supplied] or complete
    if len(complete) > 1:
        return "", [_either(sure, complete)]
    if complete:
        return complete[0], []
    return max(sure, key=lambda over: len(sure[over]), default=""), []


def _either(options: Mapping[str, list[Heading]], overs: Sequence[str]) -> HeadingProblem:
    found = {heading.index: heading.text for over in overs for heading in options[over]}
    return _problem(
        found,
        f"could each be a {' or a '.join(map(spoken, overs))}. Map them, for example to "
        f'"net by {overs[0]}".',
    )


def _doubled(wide: Sequence[Heading]) -> list[HeadingProblem]:
    """Two headings of one value."""
    groups: dict[Cell, list[Heading]] = defaultdict(list)
    for heading in wide:
        groups[heading.value].append(heading)
    alone = FileKind(
        columns=tuple({one.column.name: one.column for one in wide}.values()), required=()
    )
    return [problem for group in groups.values() for problem in ambiguities(group, alone)]


def _beside(
    fixed: Sequence[Heading], wide: Sequence[Heading], kind: FileKind
) -> list[HeadingProblem]:
    """An amount of the whole row: the total of the others, or one of its own?"""
    if kind.is_gathered:
        return []
    contested = set(kind.added_up) - set(kind.once)
    found = {one.index: one.text for one in fixed if one.column.name in contested}
    if not found:
        return []
    return [
        _problem(
            found,
            f"beside a column for each {spoken(wide[0].over)} cannot be told apart from their "
            'total. Map it to "total" if it is that, or to "" to leave it out.',
        )
    ]


def _strays(
    rest: Sequence[tuple[int, str, Cell]],
    wide: Sequence[Heading],
    options: Mapping[str, list[Heading]],
) -> list[HeadingProblem]:
    """Headings that stand among the others or name a unit, and mean nothing known."""
    others = {one.index for over, found in options.items() if over != wide[0].over for one in found}
    first, last = wide[0].index, wide[-1].index
    found = {
        index: text
        for index, text, _ in rest
        if first < index < last or index in others or split_unit(text)[0]
    }
    if not found:
        return []
    return [unknown_value(found, wide[0].over)]


def unknown_value(found: Mapping[int, str], over: str) -> HeadingProblem:
    """The problem of columns among a wide sheet's, with headings that are none of its values."""
    return _problem(
        found,
        f"stands among columns for a {spoken(over)} each, and is none that is known here. Correct "
        f'it, map it to the right one ("net by {over}: ..."), or to "" to leave it out.',
    )


def _problem(found: Mapping[int, str], detail: str) -> HeadingProblem:
    named = [f'"{text}" ({column_letters(index)})' for index, text in found.items()]
    more = ["others"] if len(named) > NAMED else []
    return HeadingProblem(
        code="ambiguous-headings",
        headings=tuple(found.values()),
        detail=f"{' and '.join(named[:NAMED] + more)} {detail}",
    )


def spoken(over: str) -> str:
    """A column's name in a sentence."""
    return "day" if over.endswith("_on") else over.replace("_", " ")
