"""What derived rows of a farm share: they enter its change feed, and not the audit history."""

from typing import Any

from django.contrib.postgres.fields import ArrayField
from django.db import models

from records.models.base import Record, stamp_trigger, tombstone_trigger


class DerivedOfFarm(Record):
    """A row computed from a farm's records; it goes with the farm."""

    farm = models.ForeignKey("records.Farm", models.CASCADE, related_name="+")

    class Meta(Record.Meta):
        abstract = True
        triggers = [
            *Record.Meta.triggers,
            stamp_trigger(derived="true"),
            tombstone_trigger(derived=True),
        ]


def farm_part(to: str, *, null: bool = False, on_delete: Any = models.CASCADE) -> Any:
    """What a row is about; checked together with its farm (migration 0002)."""
    return models.ForeignKey(
        to, on_delete, null=null, blank=null, related_name="+", db_constraint=False
    )


def people_ids() -> Any:
    return ArrayField(models.UUIDField(), default=list, blank=True)


def people_names() -> Any:
    return ArrayField(models.CharField(max_length=254), default=list, blank=True)
