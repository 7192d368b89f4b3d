"""What was stated of a species: whether the traceability rule covers it, and who says so.

Which foods are on the Food Traceability List (21 CFR 1.1300) and which businesses are exempt
(1.1305; a produce farm up to 25,000 US dollars of sales a year, of 2020 and adjusted) is for the
business and its advisers to decide. No species is known here: without an entry the answer is
"not stated".
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from planning.compute.traces.values import Business, Intake, Lot, Node, Trace, Weighing

CAUTION = (
    "This helps to keep and find records. It is no legal advice and leaves out what the rule may"
    " ask besides. Whether a crop is covered and a business exempt (21 CFR 1.1300 and 1.1305) is"
    " for the business to decide, with the text of the law and a licensed adviser."
)


class Coverage(StrEnum):
    COVERED = "covered"
    NOT_COVERED = "not covered"
    NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What a business stated of a species, for days from the first to the last."""

    owner: str
    species: str
    is_covered: bool
    starts_on: date
    ends_on: date | None
    source: str
    entered_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Fruit of a species that a business grew or packed on a day."""

    owner: str
    owner_code: str
    species: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    asked: Asked
    coverage: Coverage
    source: str = ""
    entered_by: str = ""


def asked_of(trace: Trace) -> list[Asked]:
    """What each packer stated of what it packed; without a lot, each grower of the last day."""
    fruit = {node.key: node for node in trace.nodes}
    packed = [
        _asked(lot.facts.packer, fruit[link.source], lot.on)
        for link in trace.links
        if isinstance((lot := fruit[link.target]).facts, Lot)
    ]
    if packed:
        return [one for one in packed if one]
    grown = [
        _asked(node.facts.harvester, node, node.on)
        for node in trace.nodes
        if isinstance(node.facts, Weighing | Intake)
    ]
    last: dict[tuple[str, str], Asked] = {}
    for one in sorted(filter(None, grown), key=_order):
        last[one.owner, one.species] = one
    return list(last.values())


def _asked(owner: Business, fruit: Node, on: date | None) -> Asked | None:
    if on is None or not isinstance(fruit.facts, Weighing | Intake):
        return None
    species = fruit.facts.fruit.species
    if not species:
        return None
    return Asked(owner=owner.id, owner_code=owner.code, species=species, on=on)


def stated(entries: Sequence[Entry], asked: Iterable[Asked]) -> list[Stated]:
    """What each business stated of each species on the day, in the order of business and day."""
    return [_stated(entries, one) for one in sorted(set(asked), key=_order)]


def _order(asked: Asked) -> tuple[str, str, date]:
    return asked.owner_code, asked.species, asked.on


def _stated(entries: Sequence[Entry], asked: Asked) -> Stated:
    for entry in entries:
        if (entry.owner, entry.species) == (asked.owner, asked.species) and _holds(entry, asked.on):
            said = Coverage.COVERED if entry.is_covered else Coverage.NOT_COVERED
            return Stated(
                asked=asked, coverage=said, source=entry.source, entered_by=entry.entered_by
            )
    return Stated(asked=asked, coverage=Coverage.NOT_STATED)


def _holds(entry: Entry, day: date) -> bool:
    return entry.starts_on <= day and (entry.ends_on is None or day <= entry.ends_on)
