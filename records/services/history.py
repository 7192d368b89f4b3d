"""Who changed what on a farm, read from the audit history of every kind of record at once."""

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Model

from records import models


def history_of(model: type[Model]) -> type[Model]:
    """The model of a record's history, which pghistory makes and links as `events`."""
    history: Any = model._meta.get_field("events").related_model
    return history


# What the API calls each kind of record: its history table's model.
KINDS: dict[str, type[Model]] = {
    "farms": history_of(models.Farm),
    "memberships": history_of(models.Membership),
    "season-starts": history_of(models.SeasonStart),
    "farm-roles": history_of(models.FarmRole),
    "cultivars": history_of(models.Cultivar),
    "blocks": history_of(models.Block),
    "planting-lines": history_of(models.PlantingLine),
    "trees": history_of(models.Tree),
    "grafts": history_of(models.Graft),
    "containers": history_of(models.Container),
    "grades": history_of(models.Grade),
    "grade-mappings": history_of(models.GradeMapping),
    "crops": history_of(models.Crop),
    "harvest-weights": history_of(models.HarvestWeight),
    "deliveries": history_of(models.Delivery),
    "intakes": history_of(models.Intake),
    "lots": history_of(models.Lot),
    "trace-coverages": history_of(models.TraceCoverage),
    "task-logs": history_of(models.TaskLog),
    "growth-stages": history_of(models.GrowthStage),
    "trunk-girths": history_of(models.TrunkGirth),
    "pollen-batches": history_of(models.PollenBatch),
    "pollination-rounds": history_of(models.PollinationRound),
    "fruit-counts": history_of(models.FruitCount),
    "fruit-samples": history_of(models.FruitSample),
    "weather-stations": history_of(models.WeatherStation),
    "weather-days": history_of(models.WeatherDay),
    "harvest-imports": history_of(models.HarvestImport),
    "file-layouts": history_of(models.FileLayout),
}


def register(kind: str, model: type[Model]) -> None:
    """Let the history tell of a kind of record that another app keeps."""
    KINDS[kind] = history_of(model)


ACTIONS = {"insert": "created", "update": "changed", "delete": "deleted"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change of one record: `values` are the record's own after it (before it, if deleted)."""

    at: dt.datetime
    kind: str
    event: int
    record: UUID
    action: str
    by: str | None
    made_by: dict[str, Any]
    values: dict[str, Any]


Position = tuple[dt.datetime, str, int]


def changes(
    farm_id: UUID,
    *,
    kinds: list[str],
    record_id: UUID | None = None,
    before: Position | None = None,
    limit: int,
) -> list[Change]:
    """The latest changes first, from behind a position; every table gives at most a page."""
    parts = [_part(kind, record_id is not None, before is not None) for kind in kinds]
    union = " UNION ALL ".join(f"({part})" for part in parts)
    values: dict[str, Any] = {"farm": farm_id, "record": record_id, "limit": limit}
    if before is not None:
        values |= {"at": before[0], "kind": before[1], "event": before[2]}
    sql = f"SELECT * FROM ({union}) c ORDER BY at DESC, kind DESC, event DESC LIMIT %(limit)s"
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(_changes(cursor.fetchall()))


def _part(kind: str, of_record: bool, behind: bool) -> str:
    table = KINDS[kind]._meta.db_table
    farm = "id" if kind == "farms" else "farm_id"
    where = [f"e.{farm} = %(farm)s"]
    if of_record:
        where.append("e.pgh_obj_id = %(record)s")
    if behind:
        where.append(
            f"e.pgh_created_at <= %(at)s AND (e.pgh_created_at, '{kind}', e.pgh_id)"
            " < (%(at)s, %(kind)s, %(event)s)"
        )
    return (
        f"SELECT e.pgh_created_at AS at, '{kind}' AS kind, e.pgh_id AS event, e.pgh_obj_id,"
        f" e.pgh_label, c.metadata, to_jsonb(e) FROM {table} e"
        " LEFT JOIN pghistory_context c ON c.id = e.pgh_context_id"
        f" WHERE {' AND '.join(where)}"
        " ORDER BY e.pgh_created_at DESC, e.pgh_id DESC LIMIT %(limit)s"
    )


def _changes(rows: list[Any]) -> Iterator[Change]:
    for at, kind, event, record, label, context, row in rows:
        made_by = json.loads(context) if context else {}
        yield Change(
            at=at,
            kind=kind,
            event=event,
            record=record,
            action=ACTIONS[label],
            by=made_by.get("by"),
            made_by=made_by,
            values=_own_values(json.loads(row)),
        )


def _own_values(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if not name.startswith("pgh_")}
