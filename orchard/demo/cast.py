"""The cast of the demo: an invented co-op, its farms, plantings and people, as plain values.

Its past dates are counted back from a day, so that the demo always has three seasons to show.
"""

from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from functools import cached_property
from typing import Any

from records.seasons import Season, SeasonStart, season_of, season_span


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """`mature_kg` is the crop of one full-grown tree; days count from 1, the season's first."""

    code: str
    scientific_name: str
    common_name: str
    bearing_age_years: int
    bearing_age_source: str
    mature_kg: float
    fruit_g: tuple[int, int]
    opened_by: str
    opens_on_day: int
    blooms_on_day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cultivar:
    """Without a farm it is shared by all."""

    name: str
    species: str
    mean_fruit_g: int
    picking_starts_on_day: int
    picking_weeks: int
    farm: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoOpGrade:
    code: str
    name: str
    is_marketable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CoOp:
    code: str
    name: str
    basis: str
    delivering: tuple[str, ...]  # codes of the farms whose fruit its shed takes in
    grades: tuple[CoOpGrade, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A weather station of the co-op, the farms that go by it, and the course of its year."""

    name: str
    farms: tuple[str, ...]
    time_zone: str
    warmest_c: float
    coldest_c: float
    daily_range_c: float
    warmest_on_day: int
    humidity_percent: float
    wet_days_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Membership:
    starts_on: date
    shares: str
    staff_may_edit: bool
    ends_on: date | None = None
    is_associate: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """A farm's grade; `share` is its usual part of the crop, `co_op_grade` what it counts as."""

    code: str
    is_marketable: bool
    share: float
    cull_reason: str = ""
    co_op_grade: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    code: str
    name: str
    tare_g: int
    usual_net_g: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingLine:
    cultivar: str
    rootstock: str
    planted_year: int
    tree_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Graft:
    cultivar: str
    share_percent: int
    grafted_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    """`removed_on` is the first day on which it no longer stood."""

    row: int
    position: int
    cultivar: str
    rootstock: str
    planted_on: date
    removed_on: date | None = None
    removal_reason: str = ""
    graft: Graft | None = None

    def stands_on(self, day: date) -> bool:
        return self.planted_on <= day and (self.removed_on is None or day < self.removed_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Has listed trees or planting lines, never both; `boundary` is a GeoJSON polygon."""

    code: str
    name: str
    area_m2: int
    boundary: dict[str, Any] | None = None
    weighed_by_tree: bool = False
    planting_lines: tuple[PlantingLine, ...] = ()
    trees: tuple[Tree, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PickingHabits:
    """How a farm picks and weighs. `weekdays` are ISO (Monday 1); `scale_step` is in its unit."""

    weekdays: tuple[int, ...]
    scale_step: Decimal
    largest_weighing_kg: float
    kg_an_hour: float
    lateness_days: int
    counts_fruit: bool
    crates: str | None = None
    unweighed_share: float = 0.0
    unweighed_note: str = ""
    docket_prefix: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """The file a member sends: `columns` are pairs of its heading and the field under it.

    `day_total` and `total` are how the member calls sums, if there are any. A workbook with a
    sheet for each block, named by its code, also has a `summary` with blocks under `block_heading`.
    """

    name: str
    kind: str
    columns: tuple[tuple[str, str], ...]
    decimal_mark: str
    date_order: str
    date_separator: str
    weight_unit: str
    encoding: str = "utf-8"
    delimiter: str = ","
    line_end: str = "\n"
    title: str | None = None
    day_total: str | None = None
    total: str | None = None
    leaves_repeats_blank: bool = False
    sheet_per_block: bool = False
    summary: str = ""
    block_heading: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFigure:
    """A farm's own figure of a species, and where it is from."""

    species: str
    name: str
    value: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Farm:
    """`sheet` also holds the settings by which the member's files are read.

    `crew_size` is how many people are on hand, `works_from` and `works_until` their hours. `slip`
    names what went wrong in the file of the season before (`slips.py`).
    """

    code: str
    name: str
    latitude: Decimal
    longitude: Decimal
    time_zone: str
    season_start_month: int
    backdate_days: int
    adviser_writes: bool
    crew_size: int
    membership: Membership
    picking: PickingHabits
    sheet: SheetLayout
    grades: tuple[Grade, ...]
    containers: tuple[Container, ...]
    blocks: tuple[Block, ...]
    works_from: time | None = None
    works_until: time | None = None
    figures: tuple[OwnFigure, ...] = ()
    slip: str = ""

    @property
    def season_starts(self) -> tuple[SeasonStart, ...]:
        return (SeasonStart(applies_from=None, month=self.season_start_month),)

    def season_of(self, day: date) -> Season:
        return season_of(day, self.season_starts)

    def season_span(self, year: int) -> Season:
        return season_span(year, self.season_starts)

    def container(self, code: str) -> Container:
        return next(container for container in self.containers if container.code == code)


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """`role` is owner, manager, worker or adviser of a farm, co-op-staff or platform-admin."""

    role: str
    farm: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    name: str
    email: str
    roles: tuple[Role, ...]

    def works_on(self, farm: str) -> bool:
        return Role(role="worker", farm=farm) in self.roles


@dataclass(frozen=True, kw_only=True)
class Cast:
    """Everybody and everything, on the day `as_of`."""

    as_of: date
    co_op: CoOp
    stations: tuple[Station, ...]
    species: tuple[Species, ...]
    cultivars: tuple[Cultivar, ...]
    farms: tuple[Farm, ...]
    people: tuple[Person, ...]

    @cached_property
    def cultivar_by_name(self) -> dict[str, Cultivar]:
        return {cultivar.name: cultivar for cultivar in self.cultivars}

    @cached_property
    def species_by_code(self) -> dict[str, Species]:
        return {species.code: species for species in self.species}

    def workers(self, farm: str) -> list[str]:
        return [person.name for person in self.people if person.works_on(farm)]
