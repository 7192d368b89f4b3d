"""What every record has: a client-made id, a version, times, a change tick and an audit history."""

import datetime as dt
from collections.abc import Iterable
from typing import Any, ClassVar

import pghistory
import pgtrigger
from django.contrib.postgres.fields import ArrayField
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import functions
from uuid_utils.compat import uuid7

from orchard.access import Area
from records.choices import MAX_TASK_MINUTES

# Kept out of the history: they change when nothing was changed by anyone.
UNAUDITED = ("tick", "fingerprint", "created_at", "updated_at")


class SharedTrigger(pgtrigger.Trigger):
    """A trigger that runs a function of migration 0001, the same for every table.

    The function that pgtrigger makes for each trigger asks on every row whether it is to be
    ignored, which cost more than all the rest of a bulk write.
    """

    func = "RETURN NULL;"  # never run

    def __init__(self, *, execute: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.execute = execute

    def render_execute(self, model: models.Model) -> str:
        return self.execute


def stamp_trigger(*, farm: str = "farm_id", derived: str = "false") -> pgtrigger.Trigger:
    """Give changed rows their farm's change tick, at commit.

    What is derived from the farm is rebuilt then, unless the changed rows are `derived` ("true",
    "false" or the column that says so).
    """
    return SharedTrigger(
        name="stamp",
        when=pgtrigger.After,
        operation=pgtrigger.Insert | pgtrigger.Update,
        timing=pgtrigger.Deferred,
        condition=pgtrigger.Condition(f'NEW."tick" IS NULL AND NEW."{farm}" IS NOT NULL'),
        execute=f"orchard_stamp('{farm}', '{derived}')",
    )


def touch_trigger() -> pgtrigger.Trigger:
    """Raise the version and clear the tick of a row that really changed, whoever wrote it."""
    return SharedTrigger(
        name="touch",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert | pgtrigger.Update,
        execute="orchard_touch()",
    )


def mark_trigger() -> pgtrigger.Trigger:
    """Announce a new row to `stamp`, in tables whose rows have no version."""
    return SharedTrigger(
        name="mark",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        execute="orchard_mark()",
    )


def tombstone_trigger(*, farm: str = "farm_id", derived: bool = False) -> pgtrigger.Trigger:
    """Leave a tombstone for every deleted row of a farm."""
    column, value = (", is_derived", ", true") if derived else ("", "")
    return pgtrigger.Trigger(
        name="tombstone",
        level=pgtrigger.Statement,
        when=pgtrigger.After,
        operation=pgtrigger.Delete,
        referencing=pgtrigger.Referencing(old="gone"),
        func=pgtrigger.Func(
            f"""
            INSERT INTO records_tombstone (farm_id, kind, row_id, deleted_at{column})
            SELECT "{farm}", TG_TABLE_NAME, id, now(){value} FROM gone WHERE "{farm}" IS NOT NULL;
            RETURN NULL;
            """
        ),
    )


class Record(models.Model):
    """A row that clients may name, edit by version and retire."""

    id = models.UUIDField(primary_key=True, default=uuid7)
    version = models.PositiveIntegerField(default=1, db_default=1, editable=False)
    created_at = models.DateTimeField(db_default=functions.Now(), editable=False)
    updated_at = models.DateTimeField(db_default=functions.Now(), editable=False)
    # SHA-256 of what a client sent to create the row, to tell a repeated create from a clash.
    fingerprint = models.BinaryField(null=True, editable=False)
    # The commit-ordered change number within the farm; null for rows that belong to no farm.
    tick = models.BigIntegerField(null=True, editable=False)

    area: ClassVar[Area] = Area.PLACE
    # The date that decides whether a co-op sees the row (its member's membership dates).
    dated_by: ClassVar[str | None] = None

    class Meta:
        abstract = True
        triggers = [touch_trigger()]

    @property
    def warnings(self) -> list[dict[str, str]]:
        """What is odd about this row but possible; nothing here costs a query."""
        return []


class FarmOwned(Record):
    """A record of one farm, kept together by `farm_id`."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="+")

    class Meta(Record.Meta):
        abstract = True
        triggers = [*Record.Meta.triggers, stamp_trigger(), tombstone_trigger()]


def links_version_field() -> Any:
    """Raised with every change of the rows below a record, so that its version and tick show it."""
    return models.PositiveIntegerField(default=0, db_default=0, editable=False)


class Recorded(models.Model):
    """What every record from the field or the shed has besides its own facts."""

    note = models.CharField(max_length=500, blank=True)
    recorded_at = models.DateTimeField(
        null=True, blank=True, help_text="When it was written down, where a phone knows."
    )
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    harvest_import: Any = models.ForeignKey(
        "records.HarvestImport",
        models.PROTECT,
        null=True,
        editable=False,
        db_constraint=False,
        related_name="+",
    )
    import_key = models.CharField(max_length=64, null=True, editable=False)  # noqa: DJ001 - null is "not imported", and stays out of the unique index
    retired_on = models.DateField(null=True, blank=True)
    links_version = links_version_field()

    class Meta:
        abstract = True


def people_field() -> Any:
    return ArrayField(
        models.CharField(max_length=80), default=list, blank=True, help_text="Names of who did it."
    )


def minutes_field() -> Any:
    return models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(MAX_TASK_MINUTES)],
        help_text="Of all people together.",
    )


def once_an_import_key(name: str) -> models.UniqueConstraint:
    """A later file finds the row that an earlier one made."""
    return models.UniqueConstraint(fields=["farm", "import_key"], name=f"{name}_once_an_import_key")


def warning(code: str, field: str, detail: str) -> dict[str, str]:
    return {"code": code, "pointer": f"/{field}", "detail": detail}


def removed_tree_warnings(
    trees: Iterable[Any], day: dt.date, field: str = "trees"
) -> list[dict[str, str]]:
    """Trees that no longer stood on the day: possible when a removal is dated wrongly."""
    return [
        warning(
            "tree-was-removed",
            field,
            f"Tree {tree} was removed on {tree.removed_on}, before {day}.",
        )
        for tree in trees
        if tree.removed_on and tree.removed_on <= day
    ]


class DateRange(models.Func):
    """Days from one date to another, open at either end where a date is not known."""

    function = "daterange"
    output_field: Any = models.Field()


def farm_key(to: str | type[models.Model], *, null: bool = False, related_name: str = "+") -> Any:
    """A link to a record of the same farm.

    The database's constraint covers (farm_id, id) together (migration 0002), so that no row can
    point into another farm; Django's own single-column constraint would add nothing.
    """
    return models.ForeignKey(
        to,
        models.PROTECT,
        null=null,
        blank=null,
        related_name=related_name,
        db_constraint=False,
    )


def child_key(to: str | type[models.Model], related_name: str) -> Any:
    """A link from a row to the record it belongs to, and goes with."""
    return models.ForeignKey(to, models.CASCADE, related_name=related_name, db_constraint=False)


def farm_copy() -> Any:
    """The farm of a row that belongs to a record; its links are checked together with it."""
    return models.ForeignKey("records.Farm", models.PROTECT, related_name="+", db_constraint=False)


def audited(*, farm: str | None = "farm", exclude: tuple[str, ...] = ()) -> Any:
    """Record every change, at statement level: row level grows quadratically with bulk writes."""
    by_farm = (
        [models.Index(fields=[farm, "-pgh_created_at", "-pgh_id"], name="%(class)s_farm")]
        if farm
        else []
    )
    return pghistory.track(
        pghistory.InsertEvent(level=pgtrigger.Statement),
        pghistory.UpdateEvent(level=pgtrigger.Statement),
        pghistory.DeleteEvent(level=pgtrigger.Statement),
        exclude=[*UNAUDITED, *exclude],
        meta={"indexes": by_farm} if by_farm else {},
    )
