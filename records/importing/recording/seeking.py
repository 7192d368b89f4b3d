"""What one row names, found on its farm, with what is wrong with it."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError

from records.importing.cells import Fault
from records.importing.lookups import nearest
from records.importing.places import Sought
from records.importing.recording.ground import Ground
from records.importing.rows import RowProblem
from records.importing.sheets import printable
from records.importing.staging import Place
from records.models import Block, PollenBatch, Tree
from records.services.saving.pollination import trees_at

VALUE_CHARS = 100
ABSENT, TO_COME = 1, 2


class Seeker:
    """Looks up the words of one row. `problems` refuse the row, `warnings` do not.

    `headings` says how the row's sheet calls its columns.
    """

    def __init__(self, ground: Ground, row: Any, headings: Mapping[str, str]) -> None:
        self.ground = ground
        self.row = row
        self.headings = headings
        self.problems: list[RowProblem] = []
        self.warnings: list[RowProblem] = []

    # What is wrong -----------------------------------------------------------------------------

    def blame(self, fault: Fault, *columns: str, heading: str = "", value: str = "") -> None:
        self.problems.append(self.problem(fault, *columns, heading=heading, value=value))

    def warn(self, fault: Fault, *columns: str) -> None:
        self.warnings.append(self.problem(fault, *columns))

    def problem(
        self, fault: Fault, *columns: str, heading: str = "", value: str = ""
    ) -> RowProblem:
        """In the first of these columns that the sheet has, with what the row says there."""
        name = next((one for one in columns if one in self.headings), columns[0] if columns else "")
        told = value or _written(getattr(self.row, name, ""))
        return RowProblem(
            sheet=self.row.sheet,
            row=self.row.row_number,
            column=heading or self.headings.get(name, name),
            code=fault.code,
            value=printable(told)[:VALUE_CHARS],
            detail=fault.detail,
        )

    # What is named -----------------------------------------------------------------------------

    def check_farm(self) -> None:
        farm = self.ground.farm
        known = {"", farm.code.casefold(), farm.name.casefold()}
        if self.row.farm.casefold() not in known:
            detail = f"This import is for farm {farm.code}; send rows of other farms on their own."
            self.blame(Fault("other-farm", detail), "farm")

    def check_day(self, day: dt.date, column: str) -> None:
        if not self.ground.may_write(day):
            detail = f"On {day} the farm was no member whose records the co-op may write."
            self.blame(Fault("outside-membership", detail), column)

    def thing(self, column: str) -> Any:
        """The block, cultivar, container ... of the row; None if it names none or no known one."""
        word = getattr(self.row, column)
        return self.meant(column, word) if word else None

    def meant(self, column: str, word: str, *, heading: str = "") -> Any:
        words = self.ground.words(column)
        verdict = words.look_up(word)
        if verdict.fault:
            self.blame(verdict.fault, column, heading=heading, value=word)
        return words.things[verdict.id] if verdict.id else None

    def trees(self, block: Block | None, day: dt.date, position: int | None) -> list[Tree]:
        """The tree that the row names, if it does: by its label, else by row and position."""
        row = self.row
        if not row.tree and (row.row is None or position is None):
            self._warn_of_half_a_place(row.row, position)
            return []
        if block is None:
            return []
        found = _likeliest(self._candidates(block, position), day)
        if len(found) != 1:
            place = Place(0, row.sheet, row.row_number, "")
            sought = Sought(place, block.pk, row.tree, row.row, position, bool(found))
            fault = self.ground.labels.fault_of(sought, with_hint=True)
            self.blame(fault, "tree" if row.tree else "position", value=sought.written)
        return found[:1]

    def _candidates(self, block: Block, position: int | None) -> list[Tree]:
        row = self.row
        if not row.tree:
            return self.ground.trees_by_place.get((block.pk, row.row, position), [])
        called = self.ground.trees_by_label.get((block.pk, row.tree.casefold()), [])
        return [
            tree
            for tree in called
            if row.row in (None, tree.row) and position in (None, tree.position)
        ]

    def _warn_of_half_a_place(self, row: int | None, position: int | None) -> None:
        if row is not None or position is not None:
            detail = "A tree is found by row and position together; one alone is not kept."
            self.warn(Fault("half-a-place", detail), "row" if position is None else "position")

    def trees_between(
        self, block: Block | None, day: dt.date, first: int | None, last: int | None
    ) -> list[Tree]:
        """The trees that stood in the row of trees from the first to the last position."""
        if block is None or first is None or last is None:
            return []
        place = {"row": self.row.row, "from_position": first, "to_position": last}
        try:
            return trees_at(block.pk, day, [place])
        except ValidationError as error:
            self.blame(Fault("no-tree-there", " ".join(error.messages)), "positions", "row")
            return []

    def batch(self, day: dt.date) -> PollenBatch | None:
        """The batch of that name that was collected last by then."""
        word = self.row.pollen_batch
        if not word:
            return None
        called = self.ground.batches.get(word.casefold(), [])
        by_then = [batch for batch in called if batch.collected_on <= day]
        if by_then:
            return by_then[-1]
        names = {key: known[0].name for key, known in self.ground.batches.items()}
        detail = f"No pollen batch of this name was collected by {day}. {nearest(word, names)}"
        self.blame(Fault("unknown-pollen-batch", detail), "pollen_batch")
        return None


def _likeliest(trees: list[Tree], day: dt.date) -> list[Tree]:
    """A label may be used again after a replanting: the tree of the day, else the last one."""
    ranked = [(_absence(tree, day), tree) for tree in trees]
    least = min((absence for absence, _ in ranked), default=None)
    return [tree for absence, tree in ranked if absence == least]


def _absence(tree: Tree, day: dt.date) -> tuple[int, int]:
    if tree.removed_on is not None and tree.removed_on <= day:
        return ABSENT, -tree.removed_on.toordinal()
    if tree.planted_on is not None and tree.planted_on > day:
        return TO_COME, tree.planted_on.toordinal()
    return 0, 0


def _written(value: Any) -> str:
    if isinstance(value, tuple):
        return "; ".join(map(str, value))
    return "" if value is None else str(value)
