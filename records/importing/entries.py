"""What was read of a row before it becomes a record: its values, and what is wrong with them."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from records.importing.cells import Fault, Value
from records.importing.columns import Heading, Kind
from records.importing.scales import (
    ON_THE_SCALE,
    CellFault,
    ScaleReading,
    Weight,
    in_grams,
    read_scale,
)


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

    def whole(self, name: str) -> int | None:
        """A count of which nothing is as good as any other."""
        value = self.get(name)
        return value if isinstance(value, int) else None

    def date(self, name: str) -> dt.date | None:
        value = self.get(name)
        return value if isinstance(value, dt.date) else None

    def time(self, name: str) -> dt.time | None:
        value = self.get(name)
        return value if isinstance(value, dt.time) else None

    def people(self, name: str) -> tuple[str, ...]:
        value = self.get(name)
        return value if isinstance(value, tuple) else ()

    def day(self, name: str) -> dt.date:
        """Of a column that every row fills in. TypeError where it was left blank."""
        value = self[name]
        if not isinstance(value, dt.date):
            raise TypeError(f"{name} is no date although it was not found missing")
        return value


class Gathered(NamedTuple):
    """An amount of a wide row that stays one row: whose it is, and its heading."""

    value: Value
    amount: Value
    heading: Heading


@dataclass(slots=True, kw_only=True)
class Entry:
    """A row, or the part of a wide row that is of one value.

    `column` is the heading of that part, "" for a whole row; `weighed` are its weights' headings,
    `unit` is that of weights which name none. `gathered` are the amounts of a wide row that stays
    one row. Faults found on the way are added to `faults`.
    """

    row_number: int
    sheet: str
    column: str
    values: Values
    headings: Mapping[str, Heading]
    weighed: Sequence[Heading]
    unit: str | None
    today: dt.date
    faults: list[CellFault] = field(default_factory=list)
    gathered: Sequence["Gathered"] = ()

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
            if heading.column.name in ON_THE_SCALE
            and isinstance(entered := self.values.get(heading.column.name), Decimal)
        ]
        wrong = [one for one in weighed if isinstance(one, CellFault)]
        if not wrong:
            scale = read_scale({w.heading.column.name: w for w in weighed if isinstance(w, Weight)})
            if not isinstance(scale, CellFault):
                return scale
            wrong = [scale]
        self.faults += wrong
        return ScaleReading()

    def weight(self, heading: Heading, entered: Value) -> Weight | None:
        """A weight by itself, None where it was not given or is at fault."""
        if not isinstance(entered, Decimal) or not entered:
            return None
        weight = in_grams(heading, entered, self._unit_of(heading))
        if isinstance(weight, Weight):
            return weight
        self.faults.append(weight)
        return None

    def _unit_of(self, heading: Heading) -> str | None:
        if heading.column.name == "tare" and heading.unit:
            return heading.unit
        return self.values.text("unit") or heading.unit or self.unit
