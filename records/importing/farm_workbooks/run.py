"""One loading of a workbook: who loads it, what became of its rows, and what is known by then."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError

from orchard.access import Area, Caller
from records.importing.farm_workbooks.reading import Book, Entry, Problem
from records.importing.farm_workbooks.words import Words, named
from records.models import Block, CoOp, Cultivar, Farm, Invitation, Species
from records.services import saving

NOT_ALLOWED = "not-allowed"


@dataclass(slots=True, kw_only=True)
class Run:
    """`made` counts what was created, changed and unchanged, by the name of the sheet."""

    book: Book
    caller: Caller
    problems: list[Problem] = field(default_factory=list)
    made: dict[str, Counter[str]] = field(default_factory=dict)
    farms: Words[Farm] = field(init=False)
    co_ops: Words[CoOp] = field(init=False)
    species: Words[Species] = field(init=False)
    shared_cultivars: Words[Cultivar] = field(init=False)
    blocks: dict[UUID, Words[Block]] = field(default_factory=dict)
    own_cultivars: dict[UUID, Words[Cultivar]] = field(default_factory=dict)
    new_farms: set[UUID] = field(default_factory=set)
    # What was said already, by the row that said it.
    said: dict[tuple[Any, ...], Entry] = field(default_factory=dict)
    # Invitations made, each with its link.
    invited: list[tuple[Invitation, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.problems += self.book.problems
        self.made = {kind: Counter() for kind in self.book.entries}
        loadable = Farm.objects.set_up_by(self.caller).order_by("code")
        self.farms = Words("farm", named(loadable, "code"))
        co_ops = CoOp.objects.visible_to(self.caller).order_by("code")
        self.co_ops = Words("co-op", named(co_ops, "code"))
        species = Species.objects.order_by("code")
        names = named(species, "code", "common_name", "scientific_name")
        self.species = Words("species", names)
        shared = Cultivar.objects.filter(farm=None, retired_on=None)
        self.shared_cultivars = Words("cultivar", named(shared, "name"))

    # Problems ------------------------------------------------------------------------------

    @property
    def is_refused(self) -> bool:
        return any(not problem.is_warning for problem in self.problems)

    def refuse(self, entry: Entry, column: str, code: str, detail: str) -> None:
        self.problems.append(entry.problem(column, code, detail))

    def refuse_all(self, entry: Entry, error: Exception, columns: dict[str, str]) -> None:
        """What a rule or the database refused, at the columns that its fields are read from."""
        if isinstance(error, ValidationError):
            for name, faults in error.update_error_dict({}).items():
                for fault in faults:
                    text = " ".join(fault.messages)
                    self.refuse(entry, columns.get(name, name), _code(fault), text)
            return
        rule = getattr(getattr(error.__cause__, "diag", None), "constraint_name", None)
        text = f"This clashes with what is stored ({str(rule).replace('_', ' ')})."
        self.refuse(entry, "", "clash", text)

    def is_first(self, entry: Entry, column: str, *key: Any) -> bool:
        """Whether no other row of the workbook says the same; else both rows are named."""
        earlier = self.said.setdefault((entry.kind, *key), entry)
        if earlier is not entry:
            text = f"Row {earlier.row} says the same. Leave one of rows {earlier.row} and"
            self.refuse(entry, column, "repeated", f"{text} {entry.row} out.")
        return earlier is entry

    def has_all(self, entry: Entry, *columns: str) -> bool:
        """Whether cells that are needed are filled; one with a fault of its own is told already."""
        blank = [name for name in columns if name not in entry.values]
        for name in blank:
            if not entry.cells.get(name):
                self.refuse(entry, name, "missing", f"Each row needs its {name}.")
        return not blank

    # Words ---------------------------------------------------------------------------------

    def farm_of(self, entry: Entry) -> Farm | None:
        """The farm that a row names, or the only one of the sheet farms."""
        word = entry.text("farm") or self._only_farm()
        if not word:
            self.refuse(entry, "farm", "missing", "Say which farm this belongs to.")
            return None
        farm = self.farms.get(word)
        if farm is None and not self._is_refused_farm(word):
            self.refuse(entry, "farm", "unknown-farm", self.farms.unknown(word))
        return farm

    def _only_farm(self) -> str:
        codes = {entry.text("code") for entry in self.book.entries["farms"]}
        return codes.pop() if len(codes) == 1 else ""

    def _is_refused_farm(self, word: str) -> bool:
        """Whether the farm is on its sheet, where what is wrong with it is told."""
        return any(entry.text("code") == word for entry in self.book.entries["farms"])

    def block_of(self, entry: Entry, farm: Farm) -> Block | None:
        if farm.pk not in self.blocks:
            known = named(farm.blocks.filter(retired_on=None).order_by("code"), "code", "name")
            self.blocks[farm.pk] = Words("block", known)
        return self._meant(entry, "block", self.blocks[farm.pk])

    def cultivar_of(self, entry: Entry, farm: Farm) -> Cultivar | None:
        """The farm's own, or else one shared by all."""
        own = self.cultivars_of(farm)
        found = own.get(entry.text("cultivar"))
        return found or self._meant(entry, "cultivar", own.besides(self.shared_cultivars))

    def cultivars_of(self, farm: Farm) -> Words[Cultivar]:
        if farm.pk not in self.own_cultivars:
            known = Cultivar.objects.filter(farm=farm, retired_on=None)
            self.own_cultivars[farm.pk] = Words("cultivar", named(known, "name"))
        return self.own_cultivars[farm.pk]

    def species_of(self, entry: Entry) -> Species | None:
        return self._meant(entry, "species", self.species)

    def co_op_of(self, entry: Entry) -> CoOp | None:
        return self._meant(entry, "co-op", self.co_ops)

    def _meant(self, entry: Entry, column: str, words: Words[Any]) -> Any:
        word = entry.text(column)
        found = words.get(word)
        if found is None:
            self.refuse(entry, column, f"unknown-{column}", words.unknown(word))
        return found

    def works_for(self, co_op: CoOp) -> bool:
        own = self.caller.co_ops_with("writes", Area.PEOPLE)
        return self.caller.is_platform_admin or co_op.pk in own

    # Writing -------------------------------------------------------------------------------

    def put(
        self, entry: Entry, record: Any, values: dict[str, Any], columns: dict[str, str]
    ) -> bool:
        """Store a record with a row's values; whether it is there then.

        `values` without None are set where they differ; `columns` say which column each field is
        read from.
        """
        changed = set_differing(record, values)
        if not changed and not record._state.adding:
            self.made[entry.kind]["unchanged"] += 1
            return True
        outcome = "created" if record._state.adding else "changed"
        try:
            check(record)
            saving.save(record, caller=self.caller)
        except (ValidationError, IntegrityError) as error:
            self.refuse_all(entry, error, columns)
            return False
        self.made[entry.kind][outcome] += 1
        self._warn(entry, record, columns)
        return True

    def _warn(self, entry: Entry, record: Any, columns: dict[str, str]) -> None:
        for warning in record.warnings:
            name = warning["pointer"].strip("/")
            column = columns.get(name, name)
            found = entry.problem(column, warning["code"], warning["detail"], is_warning=True)
            self.problems.append(found)


def set_differing(record: Any, values: dict[str, Any]) -> list[str]:
    """Set what a row says and the record does not say yet; the names of these fields."""
    said = {name: value for name, value in values.items() if value is not None}
    changed = [name for name, value in said.items() if getattr(record, name) != value]
    for name in changed:
        setattr(record, name, said[name])
    return changed


def check(record: Any, *, besides: Iterable[str] = ()) -> None:
    """A model's own rules. Links were looked up; checking each would ask the database again."""
    links = {each.name for each in record._meta.fields if each.is_relation}
    record.clean_fields(exclude={*links, *besides})
    record.validate_constraints()


def _code(fault: ValidationError) -> str:
    return (getattr(fault, "code", None) or "rule-broken").replace("_", "-")
