"""What was read of a row before it becomes a record: its values, and what is wrong with them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from records.importing.cells import Fault, Value
from records.importing.columns import Heading, Kind
from records.importing.scales import CellFault, ScaleReading, Weight, in_grams, read_scale


class Values(dict[str, Value]):
    """A row's values by column name, with what stands for one not given."""

    def text(self, name: str) -> str:
        value = self.get(name)
        return value if isinstance(value, str) else ""

    def count(self, name: str) -> int | None:
        value = self.get(name)
        return value if isinstance(value, int) and value else None

    def number(self, name: str) -> Decimal | None:
        value = self.get(name)
        return Decimal(value) if isinstance(value, Decimal | int) else None

    def people(self, name: str) -> tuple[str, ...]:
        value = self.get(name)
        return value if isinstance(value, tuple) else ()

    def day(self, name: str) -> date:
        """Of a column that every row fills in. TypeError where it was left blank."""
        value = self[name]
        if not isinstance(value, date):
            raise TypeError(f"{name} is no date although it was not found missing")
        return value


@dataclass(slots=True, kw_only=True)
class Entry:
    """A row, or the part of a wide row that is of one value.

    `column` is the heading of that part, "" for a whole row; `weighed` are its weights' headings,
    `unit` is that of weights which name none. Faults found on the way are added to `faults`.
    """

    row_number: int
    sheet: str
    column: str
    values: Values
    headings: Mapping[str, Heading]
    weighed: Sequence[Heading]
    unit: str | None
    faults: list[CellFault] = field(default_factory=list)

    def blame(self, fault: Fault, *names: str) -> None:
        """Add a fault to the first of these columns that the file has, else to its first column."""
        found = (self.headings[name] for name in names if name in self.headings)
        heading = next(found, None) or next(iter(self.headings.values()))
        self.faults.append(CellFault(heading, fault))

    def weights(self) -> ScaleReading:
        """The row's weights together; what is wrong with them is added to the faults.

        A row's unit column speaks for its weights before their headings do; a tare whose heading
        names a unit keeps that one.
        """
        if any(heading.column.kind in (Kind.WEIGHT, Kind.UNIT) for heading, _ in self.faults):
            return ScaleReading()
        weighed = [
            in_grams(heading, entered, self._unit_of(heading))
            for heading in self.weighed
            if isinstance(entered := self.values.get(heading.column.name), Decimal)
        ]
        wrong = [one for one in weighed if isinstance(one, CellFault)]
        if not wrong:
            scale = read_scale({w.heading.column.name: w for w in weighed if isinstance(w, Weight)})
            if not isinstance(scale, CellFault):
                return scale
            wrong = [scale]
        self.faults += wrong
        return ScaleReading()

    def _unit_of(self, heading: Heading) -> str | None:
        if heading.column.name == "tare" and heading.unit:
            return heading.unit
        return self.values.text("unit") or heading.unit or self.unit
