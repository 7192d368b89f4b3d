"""Reads the cast from its TOML files and counts its dates back from a day."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from orchard.demo.cast import (
    Block,
    Cast,
    Container,
    CoOp,
    CoOpGrade,
    Cultivar,
    Farm,
    Grade,
    Graft,
    Membership,
    OwnFigure,
    Person,
    PickingHabits,
    PlantingLine,
    Role,
    SheetLayout,
    Species,
    Station,
    Tree,
)
from records.seasons import SeasonStart, season_of

FIXTURES = Path(__file__).parents[2] / "fixtures" / "demo"
PLANTING_DAY = 70  # early March or September: when the trees are pruned, so are new ones planted

Table = dict[str, Any]


def read_cast(as_of: date, counted_from: date | None = None, folder: Path = FIXTURES) -> Cast:
    """The cast as it stands on `as_of`; a misspelt or missing key is a TypeError or KeyError.

    Its past is counted back from `counted_from`, or else from `as_of`. Give the day on which the
    cast was first read to see the same orchards grow older.
    """
    counted_from = counted_from or as_of
    co_op = _toml(folder / "co-op.toml")
    farms = [_toml(path) for path in sorted((folder / "farms").glob("*.toml"))]
    return Cast(
        as_of=as_of,
        co_op=_co_op(co_op["co_op"]),
        stations=tuple(
            Station(**{**table, "farms": tuple(table["farms"])}) for table in co_op["stations"]
        ),
        species=tuple(_species(table) for table in co_op["species"]),
        cultivars=(
            *(Cultivar(**table) for table in co_op["cultivars"]),
            *(
                Cultivar(**own, farm=farm["code"])
                for farm in farms
                for own in _many(farm, "cultivars")
            ),
        ),
        farms=tuple(_farm(table, counted_from) for table in farms),
        people=tuple(_person(table) for table in _toml(folder / "people.toml")["people"]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Counts a farm's seasons back from a day."""

    counted_from: date
    start_month: int

    def season_year(self, seasons_ago: int) -> int:
        starts = [SeasonStart(applies_from=None, month=self.start_month)]
        return season_of(self.counted_from, starts).year - seasons_ago

    def day(self, *, seasons_ago: int, month: int, day: int) -> date:
        next_year = month < self.start_month
        return date(self.season_year(seasons_ago) + next_year, month, day)

    def planting_day(self, seasons_ago: int) -> date:
        first_day = date(self.season_year(seasons_ago), self.start_month, 1)
        return first_day + timedelta(days=PLANTING_DAY - 1)


def _toml(path: Path) -> Table:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _many(table: Table, key: str) -> list[Table]:
    found: list[Table] = table.get(key, [])
    return found


def _co_op(table: Table) -> CoOp:
    grades = tuple(CoOpGrade(**grade) for grade in table["grades"])
    return CoOp(**{**table, "delivering": tuple(table["delivering"]), "grades": grades})


def _species(table: Table) -> Species:
    return Species(**{**table, "fruit_g": tuple(table["fruit_g"])})


def _person(table: Table) -> Person:
    return Person(**{**table, "roles": tuple(Role(**role) for role in table["roles"])})


def _farm(table: Table, counted_from: date) -> Farm:
    calendar = Calendar(counted_from=counted_from, start_month=table["season_start_month"])
    read = {
        "latitude": Decimal(str(table["latitude"])),
        "longitude": Decimal(str(table["longitude"])),
        "membership": _membership(table["membership"], calendar),
        "picking": _picking(table["picking"]),
        "sheet": _sheet(table["sheet"]),
        "grades": tuple(Grade(**grade) for grade in table["grades"]),
        "containers": tuple(Container(**container) for container in _many(table, "containers")),
        "blocks": tuple(_block(block, calendar) for block in table["blocks"]),
        "figures": tuple(OwnFigure(**figure) for figure in _many(table, "figures")),
    }
    kept = {key: value for key, value in table.items() if key != "cultivars"}
    return Farm(**{**kept, **read})


def _membership(table: Table, calendar: Calendar) -> Membership:
    return Membership(**{**table, "starts_on": calendar.day(**table["starts_on"])})


def _picking(table: Table) -> PickingHabits:
    read = {"weekdays": tuple(table["weekdays"]), "scale_step": Decimal(table["scale_step"])}
    return PickingHabits(**{**table, **read})


def _sheet(table: Table) -> SheetLayout:
    columns = tuple((heading, field) for heading, field in table["columns"])
    return SheetLayout(**{**table, "columns": columns})


def _block(table: Table, calendar: Calendar) -> Block:
    return Block(
        code=table["code"],
        name=table["name"],
        area_m2=table["area_m2"],
        boundary=_polygon(table["boundary"]) if "boundary" in table else None,
        weighed_by_tree=table.get("weighed_by_tree", False),
        planting_lines=tuple(
            _planting_line(line, calendar) for line in _many(table, "planting_lines")
        ),
        trees=_trees(table, calendar),
    )


def _polygon(ring: list[list[float]]) -> Table:
    return {"type": "Polygon", "coordinates": [ring]}


def _planting_line(table: Table, calendar: Calendar) -> PlantingLine:
    table = dict(table)
    year = calendar.planting_day(table.pop("planted_seasons_ago")).year
    return PlantingLine(**table, planted_year=year)


def _trees(table: Table, calendar: Calendar) -> tuple[Tree, ...]:
    """The trees of a block in row and position order, a replant after the tree it replaces."""
    trees: dict[tuple[int, int], Tree] = {}
    for stand in _many(table, "stands"):
        trees |= {(tree.row, tree.position): tree for tree in _stand(stand, calendar)}
    for graft in _many(table, "grafts"):
        place = (graft["row"], graft["position"])
        trees[place] = replace(trees[place], graft=_graft(graft, calendar))
    replants = []
    for replant in _many(table, "replants"):
        place = (replant["row"], replant["position"])
        trees[place] = replace(
            trees[place],
            removed_on=calendar.day(**replant["removed_on"]),
            removal_reason=replant["removal_reason"],
        )
        replants.append(_replant(replant, calendar))
    both = [*trees.values(), *replants]
    return tuple(sorted(both, key=lambda tree: (tree.row, tree.position, tree.planted_on)))


def _stand(table: Table, calendar: Calendar) -> Iterator[Tree]:
    """Rows x positions of one planting, but for the gaps."""
    gaps = {tuple(gap) for gap in table.get("gaps", [])}
    for row in _through(table["rows"]):
        for position in _through(table["positions"]):
            if (row, position) not in gaps:
                yield Tree(
                    row=row,
                    position=position,
                    cultivar=table["cultivar"],
                    rootstock=table["rootstock"],
                    planted_on=calendar.planting_day(table["planted_seasons_ago"]),
                )


def _through(first_and_last: list[int]) -> range:
    first, last = first_and_last
    return range(first, last + 1)


def _graft(table: Table, calendar: Calendar) -> Graft:
    return Graft(
        cultivar=table["cultivar"],
        share_percent=table["share_percent"],
        grafted_on=calendar.day(**table["grafted_on"]),
    )


def _replant(table: Table, calendar: Calendar) -> Tree:
    return Tree(
        row=table["row"],
        position=table["position"],
        cultivar=table["cultivar"],
        rootstock=table["rootstock"],
        planted_on=calendar.day(**table["planted_on"]),
    )
