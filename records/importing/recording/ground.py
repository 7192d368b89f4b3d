"""What the words of a file can mean on its farm, each sort of thing loaded once for all rows."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from records.choices import ImportKind
from records.importing.lookups import MAX_HINTS, Dictionary, Known, Verdict, known_words
from records.importing.places import Labels
from records.models import (
    Block,
    Container,
    CoOpGrade,
    Cultivar,
    Grade,
    HarvestImport,
    Membership,
    PollenBatch,
    PollinationRound,
    Tree,
    WeatherStation,
)


class Words:
    """The things of one sort, found by their codes or names."""

    def __init__(self, what: str, things: Iterable[Any]) -> None:
        self.things = {thing.pk: thing for thing in things}
        self._dictionary = Dictionary(what, [_known(thing) for thing in self.things.values()])
        self._verdicts: dict[str, Verdict] = {}

    def look_up(self, word: str) -> Verdict:
        if word not in self._verdicts:
            with_hint = len(self._verdicts) < MAX_HINTS
            self._verdicts[word] = self._dictionary.look_up(word, with_hint=with_hint)
        return self._verdicts[word]


def _known(thing: Any) -> Known:
    """What is of the farm's or the shed's own goes before what it shares with others."""
    is_shared = getattr(thing, "farm_id", thing) is None
    if hasattr(thing, "code"):
        return Known(thing.pk, thing.code, thing.name, is_shared)
    return Known(thing.pk, thing.name, is_shared=is_shared)


class Ground:
    """The farm of an import, and everything there that its rows may name."""

    def __init__(self, harvest_import: HarvestImport) -> None:
        self.harvest_import = harvest_import
        self.farm = harvest_import.farm
        self._words: dict[str, Words] = {}

    def words(self, column: str) -> Words:
        if column not in self._words:
            self._words[column] = Words(column, THINGS[column](self.harvest_import))
        return self._words[column]

    @cached_property
    def trees_by_block(self) -> dict[UUID, list[Tree]]:
        found: dict[UUID, list[Tree]] = defaultdict(list)
        for tree in Tree.objects.filter(farm=self.farm).order_by("row", "position", "pk"):
            found[tree.block_id].append(tree)
        return found

    @cached_property
    def trees_by_place(self) -> dict[tuple[UUID, int | None, int | None], list[Tree]]:
        found: dict[tuple[UUID, int | None, int | None], list[Tree]] = defaultdict(list)
        for block_id, trees in self.trees_by_block.items():
            for tree in trees:
                found[block_id, tree.row, tree.position].append(tree)
        return found

    @cached_property
    def trees_by_label(self) -> dict[tuple[UUID, str], list[Tree]]:
        found: dict[tuple[UUID, str], list[Tree]] = defaultdict(list)
        for block_id, trees in self.trees_by_block.items():
            for tree in trees:
                found[block_id, tree.number.casefold()].append(tree)
        return found

    @cached_property
    def labels(self) -> Labels:
        return Labels([self.farm.pk])

    @cached_property
    def batches(self) -> dict[str, list[PollenBatch]]:
        """Batches that have a name, by it, the one collected last at the end."""
        kept = PollenBatch.objects.filter(farm=self.farm, retired_on=None).exclude(name="")
        found: dict[str, list[PollenBatch]] = defaultdict(list)
        donors = kept.prefetch_related("donor_trees", "donor_cultivars")
        for batch in donors.order_by("collected_at", "pk"):
            found[batch.name.casefold()].append(batch)
        return found

    @cached_property
    def rounds(self) -> dict[UUID, list[PollinationRound]]:
        """Rounds by block, in the order of their days."""
        kept = PollinationRound.objects.filter(farm=self.farm, retired_on=None)
        found: dict[UUID, list[PollinationRound]] = defaultdict(list)
        with_trees = kept.select_related("pollen_batch").prefetch_related("trees")
        for round_ in with_trees.order_by("pollinated_on", "pk"):
            found[round_.block_id].append(round_)
        return found

    @cached_property
    def _memberships(self) -> list[Membership]:
        ours = self.harvest_import
        terms = Membership.objects.filter(co_op=ours.co_op_id, farm=self.farm, staff_may_edit=True)
        return list(terms)

    def may_write(self, day: dt.date) -> bool:
        """Staff and apps of a co-op write only what is dated within a membership that lets them."""
        if self.harvest_import.co_op_id is None:
            return True
        return any(
            term.starts_on <= day and (term.ends_on is None or day <= term.ends_on)
            for term in self._memberships
        )


def farms_of(harvest_import: HarvestImport) -> list[UUID]:
    """The farm of a file, or of a co-op's file all that are or were members."""
    if harvest_import.farm_id:
        return [harvest_import.farm_id]
    members = Membership.objects.filter(co_op=harvest_import.co_op_id).order_by("farm_id")
    return list(members.values_list("farm_id", flat=True).distinct())


def words_of(harvest_import: HarvestImport, columns: Iterable[str]) -> dict[str, list[str]]:
    """The codes and names by which wide headings and the names of sheets are known."""
    known = known_words(farms_of(harvest_import), columns)
    if "grade" in known:
        known["grade"] += [
            text
            for grade in _shed_grades(harvest_import)
            for text in (grade.code, grade.name)
            if text
        ]
    return known


def _shed_grades(harvest_import: HarvestImport) -> QuerySet[Any]:
    """A co-op sorts what it receives by grades of its own; weighings have the farm's alone."""
    received = harvest_import.kind == ImportKind.INTAKES
    co_op_id = harvest_import.co_op_id if received else None
    return CoOpGrade.objects.filter(co_op=co_op_id).order_by("code")


def _grades(harvest_import: HarvestImport) -> list[Any]:
    """Those of the co-op's shed, and those of the farm that the shed does not call the same."""
    own = Grade.objects.filter(farm=harvest_import.farm).order_by("code")
    co_op = list(_shed_grades(harvest_import))
    taken = {grade.code.casefold() for grade in co_op}
    return [*co_op, *(grade for grade in own if grade.code.casefold() not in taken)]


def _cultivars(harvest_import: HarvestImport) -> QuerySet[Any]:
    return Cultivar.objects.usable_on(harvest_import.farm_id).order_by("name")


def _own(model: type[Any], name: str) -> Callable[[HarvestImport], QuerySet[Any]]:
    return lambda ours: model.objects.filter(farm=ours.farm_id).order_by(name)


# By column; a station that another keeps is for its keeper to write.
THINGS: dict[str, Callable[[HarvestImport], Iterable[Any]]] = {
    "block": _own(Block, "code"),
    "cultivar": _cultivars,
    "grade": _grades,
    "container": _own(Container, "code"),
    "station": _own(WeatherStation, "name"),
}
