"""What the groups of a table are called."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from planning.compute.harvest_table import Key, TableRow
from records.models import Block, CoOpGrade, Cultivar, Farm, Grade, Species

REJECTS = "rejects: {}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """By id; a block with the code of its farm, a farm's own grade as "FARM A"."""

    members: Mapping[UUID, tuple[str, str]] = field(default_factory=dict)
    blocks: Mapping[UUID, tuple[str, str]] = field(default_factory=dict)
    cultivars: Mapping[UUID, str] = field(default_factory=dict)
    species: Mapping[UUID, str] = field(default_factory=dict)
    grades: Mapping[UUID, str] = field(default_factory=dict)

    def grade(self, key: Sequence[Any]) -> str | None:
        """Of a co-op's grade, a farm's grade and a reason of rejects, at most one of which is."""
        co_op_grade_id, grade_id, reason = key
        if reason:
            return REJECTS.format(reason)
        return self.grades.get(co_op_grade_id or grade_id)


def names_of(keys: Sequence[Key], rows: Iterable[TableRow]) -> Names:
    """Those of the rows' groups, in a query for each kind that they are grouped by."""
    found: dict[Key, set[UUID]] = {key: set() for key in keys}
    for row in rows:
        at = 0
        for key in keys:
            parts = row.key[at : at + WIDTHS.get(key, 1)]
            found[key].update(part for part in parts if isinstance(part, UUID))
            at += len(parts)
    grades = found.get(Key.GRADE, set()) | found.get(Key.FARM_GRADE, set())
    return Names(
        members=_members(found.get(Key.MEMBER, ())),
        blocks=_blocks(found.get(Key.BLOCK, ())),
        cultivars=dict(_named(Cultivar, found.get(Key.CULTIVAR, ()), "name")),
        species=dict(_named(Species, found.get(Key.SPECIES, ()), "common_name")),
        grades=_grades(grades),
    )


# How many parts of a group's key each takes.
WIDTHS = {Key.GRADE: 3, Key.FARM_GRADE: 3}


def _named(model: Any, ids: Collection[UUID], *names: str) -> Any:
    return model.objects.filter(pk__in=ids).values_list("pk", *names) if ids else ()


def _members(ids: Collection[UUID]) -> dict[UUID, tuple[str, str]]:
    return {pk: (code, name) for pk, code, name in _named(Farm, ids, "code", "name")}


def _blocks(ids: Collection[UUID]) -> dict[UUID, tuple[str, str]]:
    return {pk: (farm, code) for pk, farm, code in _named(Block, ids, "farm__code", "code")}


def _grades(ids: Collection[UUID]) -> dict[UUID, str]:
    own = {pk: f"{farm} {code}" for pk, farm, code in _named(Grade, ids, "farm__code", "code")}
    return own | dict(_named(CoOpGrade, ids, "code"))
