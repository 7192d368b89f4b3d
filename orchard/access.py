"""Who may see and do what: the one table of roles, shares and scopes.

Pure values. `records.querysets` turns them into queries (`visible_to`, `writable_by`); nothing
else in the code decides about access.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from uuid import UUID


class Area(StrEnum):
    """A kind of data that is seen or changed together."""

    PLACE = "place"  # farm, blocks, trees, cultivars, containers, grades, crops
    FIELD = "field"  # what was done in the field
    OBSERVATION = "observation"  # what was pollinated, seen and counted: an adviser's work too
    WEATHER = "weather"
    HARVEST = "harvest"
    IMPORT = "import"  # members' files and how they are read
    SUMMARY = "summary"
    SCHEDULE = "schedule"
    HISTORY = "history"
    SETTLEMENT = "settlement"  # closed seasons, pools, and what members are paid
    PEOPLE = "people"  # roles, tokens and invitations; and setting up farms from a workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Rights:
    """Areas that may be read, written, and written only in one's own records.

    `limited` rights show only what a member's `harvest` share shows (design: farm and block
    codes, cultivar, tree numbers, area, weighings and intakes).
    """

    reads: frozenset[Area] = frozenset()
    writes: frozenset[Area] = frozenset()
    own: frozenset[Area] = frozenset()
    limited: bool = False

    def __and__(self, other: "Rights") -> "Rights":
        return Rights(
            reads=self.reads & other.reads,
            writes=self.writes & other.writes,
            own=self.own & other.own,
            limited=self.limited or other.limited,
        )

    def __or__(self, other: "Rights") -> "Rights":
        return Rights(
            reads=self.reads | other.reads,
            writes=self.writes | other.writes,
            own=self.own | other.own,
            limited=self.limited and other.limited,
        )


def rights(
    reads: Iterable[Area] = (),
    writes: Iterable[Area] = (),
    own: Iterable[Area] = (),
    limited: bool = False,
) -> Rights:
    return Rights(
        reads=frozenset(reads), writes=frozenset(writes), own=frozenset(own), limited=limited
    )


EVERYTHING = rights(reads=Area, writes=Area)
HARVEST_SHARE = (Area.PLACE, Area.HARVEST, Area.SUMMARY)
FIELDWORK = (Area.FIELD, Area.OBSERVATION, Area.WEATHER)
FULL_SHARE = (*HARVEST_SHARE, *FIELDWORK, Area.SCHEDULE)
RECORDS = (Area.PLACE, *FIELDWORK, Area.HARVEST, Area.IMPORT)

FARM_ROLES: dict[str, Rights] = {
    "owner": EVERYTHING,
    "manager": EVERYTHING,
    # Workers pollinate with others' pollen and count others' marks, so they see what was observed.
    # They see all that is due, and note the alerts about what they are to do themselves; to skip
    # a task or to say whose it is lies with owners and managers.
    "worker": rights(
        reads=(Area.PLACE, Area.SCHEDULE, Area.OBSERVATION, Area.WEATHER),
        own=(Area.FIELD, Area.OBSERVATION, Area.HARVEST, Area.SCHEDULE),
    ),
    "adviser": rights(reads=set(Area) - {Area.PEOPLE, Area.SETTLEMENT}),
}
# What an adviser writes besides, on a farm whose `adviser_writes` is set.
ADVISER_EDITS = rights(writes=(Area.OBSERVATION,))

# What a co-op's staff may do with a member, by the membership's `shares` and `staff_may_edit`.
SHARES: dict[str, Rights] = {
    "harvest": rights(reads=(*HARVEST_SHARE, Area.IMPORT), limited=True),
    "all": rights(reads=(*FULL_SHARE, Area.IMPORT)),
}
STAFF_EDITS = frozenset({Area.HARVEST, Area.IMPORT})
# What staff write for the co-op itself: its lots and grades, its weather stations, its settlement.
CO_OP_EDITS = frozenset({Area.HARVEST, Area.WEATHER, Area.SETTLEMENT})

SCOPES: dict[str, Rights] = {
    "schedule:read": rights(reads=(Area.PLACE, Area.SCHEDULE), limited=True),
    "schedule:write": rights(
        reads=(Area.PLACE, Area.SCHEDULE), writes=(Area.SCHEDULE,), limited=True
    ),
    "records:read": rights(reads=(*RECORDS, Area.SUMMARY)),
    "records:write": rights(reads=(*RECORDS, Area.SUMMARY), writes=RECORDS),
    "harvest:read": rights(reads=(*HARVEST_SHARE, Area.IMPORT), limited=True),
    "harvest:write": rights(
        reads=(*HARVEST_SHARE, Area.IMPORT), writes=(Area.HARVEST, Area.IMPORT), limited=True
    ),
    "settlement:read": rights(reads=(Area.PLACE, Area.SUMMARY, Area.SETTLEMENT), limited=True),
    "settlement:write": rights(
        reads=(Area.PLACE, Area.SUMMARY, Area.SETTLEMENT), writes=(Area.SETTLEMENT,), limited=True
    ),
}


# Whoever sends or sees a kind of file may write or see the records that its rows become.
IMPORTED: dict[str, Area] = {
    "harvest-weights": Area.HARVEST,
    "intakes": Area.HARVEST,
    "weather-days": Area.WEATHER,
    "task-logs": Area.FIELD,
    "growth-stages": Area.OBSERVATION,
    "pollination-rounds": Area.OBSERVATION,
    "fruit-counts": Area.OBSERVATION,
}


def farm_rights(role: str, *, adviser_writes: bool) -> Rights:
    """What a role gives on a farm with this setting."""
    held = FARM_ROLES[role]
    return held | ADVISER_EDITS if role == "adviser" and adviser_writes else held


def scope_rights(scopes: Iterable[str]) -> Rights:
    """What a token with these scopes may do at the most."""
    total = rights(limited=True)
    for scope in scopes:
        total = total | SCOPES[scope]
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """Who is asking: a person or a token, and what the table above gives them.

    `farms` maps a farm to the rights held there directly. `co_ops` maps a co-op to an upper
    bound of rights; what its members share narrows it row by row, in the query.
    """

    name: str
    person_id: UUID | None = None
    token_id: UUID | None = None
    is_platform_admin: bool = False
    farms: dict[UUID, Rights] = field(default_factory=dict)
    co_ops: dict[UUID, Rights] = field(default_factory=dict)

    def farms_with(self, kind: str, area: Area) -> list[UUID]:
        """Farms where the caller `reads`, `writes` or writes `own` records of an area."""
        return [farm for farm, held in self.farms.items() if area in getattr(held, kind)]

    def co_ops_with(self, kind: str, area: Area) -> list[UUID]:
        return [co_op for co_op, held in self.co_ops.items() if area in getattr(held, kind)]

    def may_ever(self, kind: str, area: Area) -> bool:
        """Whether there is any place at all where this is allowed."""
        return self.is_platform_admin or bool(
            self.farms_with(kind, area) or self.co_ops_with(kind, area)
        )

    @property
    def unlimited_farms(self) -> list[UUID]:
        return [farm for farm, held in self.farms.items() if not held.limited]
