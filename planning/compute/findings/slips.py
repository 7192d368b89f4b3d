"""Slips of unit and of decimal place: what all comparisons together say of a row."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.findings.at_intake import Load, compare_loads
from planning.compute.findings.likeness import (
    PER_CONTAINER,
    PER_FRUIT,
    Comparison,
    Suspect,
    Verdicts,
    compare,
)
from planning.compute.findings.readings import Reading, Readings, net_g
from planning.compute.findings.values import Change, Finding, FindingKind, Fix, Row, RowKind, Sure
from planning.compute.findings.words import counted, days_of, kilos, sentence, where

MANY = 30  # comparisons by which one measure alone is enough to be sure
SHOWN_COMPARISONS = 5
MOST_ROWS = 500  # of one finding, which is put right in one go


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A row, how it was meant, and every comparison that says so."""

    row: Row
    reading: Reading
    suspects: Sequence[Suspect]

    @property
    def is_batch(self) -> bool:
        return any(suspect.is_batch for suspect in self.suspects)

    @property
    def sure(self) -> Sure:
        measures = {suspect.comparison.measure for suspect in self.suspects}
        if all(suspect.is_either for suspect in self.suspects):
            return Sure.LOW
        many = max(len(suspect.comparison.others) for suspect in self.suspects) >= MANY
        return Sure.HIGH if len(measures) > 1 or many else Sure.MEDIUM

    @property
    def together(self) -> Hashable:
        """Rows of one batch, or else of one day and source, are one finding."""
        row = self.row
        when = row.season_year if self.is_batch else row.day
        return row.kind, self.reading.name, row.source, self.is_batch, when


def slips(
    rows: Sequence[Row],
    loads: Sequence[Load],
    readings: Readings,
    kind: FindingKind,
    threshold: str,
) -> Iterator[Finding]:
    """Rows that are far off in every comparison that can be made, and right by one reading."""
    weighings = [row for row in rows if row.kind is RowKind.WEIGHING]
    measured = [compare(weighings, measure, readings) for measure in (PER_CONTAINER, PER_FRUIT)]
    ordinary: set[UUID] = set().union(*(verdicts.ordinary for verdicts in measured))
    at_intake = compare_loads(loads, readings, ordinary)
    agreed = list(_agreed([*measured, at_intake], ordinary | at_intake.ordinary, at_intake))
    everyone = (*measured, at_intake)
    acquitted = set().union(*(verdicts.ordinary_elsewhere for verdicts in everyone))
    groups: dict[Hashable, list[Slip]] = defaultdict(list)
    for slip in _throughout(agreed, weighings, readings, acquitted):
        groups[slip.together].append(slip)
    for group in groups.values():
        group.sort(key=lambda slip: (slip.row.day, slip.row.number))
        for first in range(0, len(group), MOST_ROWS):
            yield _finding(group[first : first + MOST_ROWS], kind, threshold)


def _agreed(
    verdicts: Iterable[Verdicts], ordinary: Collection[UUID], at_intake: Verdicts
) -> Iterator[Slip]:
    """What no other comparison speaks against.

    A row that is ordinary among its like is not wrong by itself, yet may be with its batch, unless
    the shed's scale says otherwise: containers may have become larger.
    """
    by_row: dict[UUID, list[Suspect]] = defaultdict(list)
    for each in verdicts:
        for suspect in each.suspects:
            by_row[suspect.row.id].append(suspect)
    for row_id, suspects in by_row.items():
        is_batch = any(suspect.is_batch for suspect in suspects)
        names = {suspect.reading.name for suspect in suspects}
        is_acquitted = row_id in (at_intake.ordinary_elsewhere if is_batch else ordinary)
        if len(names) == 1 and not is_acquitted:
            first = suspects[0]
            yield Slip(row=first.row, reading=first.reading, suspects=suspects)


def _throughout(
    slips: Sequence[Slip],
    weighings: Sequence[Row],
    readings: Readings,
    acquitted: Collection[UUID],
) -> Iterator[Slip]:
    """A batch in the wrong unit is so in the rows that nothing like them speaks of, too."""
    wrong: dict[Hashable, Slip] = {slip.row.batch: slip for slip in slips if slip.is_batch}
    joined: set[UUID] = set()
    for row in weighings:
        slip = wrong.get(row.batch)
        reading = slip and next(
            (each for each in readings(row) if each.name == slip.reading.name), None
        )
        if slip and reading and row.id not in acquitted and net_g(row, reading) > 0:
            joined.add(row.id)
            yield Slip(row=row, reading=reading, suspects=slip.suspects)
    yield from (slip for slip in slips if slip.row.id not in joined)


def _finding(group: Sequence[Slip], kind: FindingKind, threshold: str) -> Finding:
    rows = [slip.row for slip in group]
    sure = min((slip.sure for slip in group), key=list(reversed(Sure)).index)
    comparisons = _comparisons(group)
    evidence = {
        "threshold": threshold,
        "reading": group[0].reading.words,
        "comparisons": [comparison.evidence for comparison in comparisons[:SHOWN_COMPARISONS]],
    }
    return Finding(
        kind=kind,
        about=rows,
        sentence=_sentence(rows, group[0].reading, comparisons[0]),
        sure=sure,
        evidence=evidence,
        fix=None if sure is Sure.LOW else _fix(group),
    )


def _comparisons(group: Iterable[Slip]) -> list[Comparison]:
    """Each once, though a batch's rows share theirs."""
    found = {
        id(suspect.comparison): suspect.comparison for slip in group for suspect in slip.suspects
    }
    return list(found.values())


def _sentence(rows: Sequence[Row], reading: Reading, comparison: Comparison) -> str:
    look = "looks like" if len(rows) == 1 else "look like"
    if reading.words.endswith(("high", "low")):
        look = "looks" if len(rows) == 1 else "look"
    return sentence(
        f"{counted(rows)} {days_of(rows)}{where(rows)} {look} {reading.words}: by"
        f" {comparison.of}, {amount(comparison.found_g)} where {amount(comparison.expected_g)}"
        f" is usual, {comparison.ratio:.2f} times as much."
    )


def amount(grams: float) -> str:
    """Fruit in grams, containers and loads in kilos."""
    return f"{grams:.0f} g" if grams < 1_000 else kilos(grams)


def _fix(group: Sequence[Slip]) -> Fix:
    now_g = sum(slip.row.net_g or 0 for slip in group)
    then_g = sum(net_g(slip.row, slip.reading) for slip in group)
    return Fix(
        sentence=f"{_put_right(group)}: {kilos(then_g)} instead of {kilos(now_g)}.",
        changes=[_change(slip) for slip in group],
        effect_g=then_g - now_g,
    )


def _put_right(group: Sequence[Slip]) -> str:
    first = group[0]
    if first.reading.unit != first.row.unit:
        return f"Read as {first.reading.name}"
    return "Correct the figure" if len(group) == 1 else "Correct the figures"


def _change(slip: Slip) -> Change:
    row, reading = slip.row, slip.reading
    if reading.unit != row.unit:
        fields, was = {"unit": reading.unit}, {"unit": row.unit}
    else:
        fields, was = {"weight": str(reading.weight)}, {"weight": str(row.weight)}
    return Change(kind=row.kind, id=row.id, version=row.version, fields=fields, was=was)
