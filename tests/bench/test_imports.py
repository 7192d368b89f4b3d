"""A file from the stored upload to the committed report, against bare COPY and other ways."""

import csv
import datetime as dt
import random
from collections import defaultdict
from collections.abc import Callable
from functools import partial
from io import BytesIO, StringIO
from statistics import median
from typing import Any

from django.db import connection, transaction
from rest_framework import serializers

from records.importing import load
from records.models import Block, Farm, Grade, HarvestImport, HarvestWeight
from records.services.imports import receive
from tests.bench.frame import Bench, seconds
from tests.cast import make_place
from tests.conftest import owner_of

FASTER_THAN_BULK_CREATE = 2
FASTER_THAN_SERIALIZER = 50
OF_BARE_COPY = 2  # times its time: half of its rows a second
AGAIN = 4
RUNS = 3
BLOCKS = 100
HEADINGS = ["Date", "Block", "Grade", "Kilos", "Crates", "Docket", "Line", "Pickers", "Note"]
WRITTEN = [
    *("importedchange", "harvestweighttree", "harvestweighttreeevent"),
    *("harvestweight", "harvestweightevent"),
]
COLUMNS = [field.column for field in HarvestWeight._meta.concrete_fields]
# What a row is sent with; the rest follows from it.
ENTERED = (
    *("farm", "block", "grade", "picked_on", "weight", "unit", "weight_kind", "containers"),
    *("docket", "pickers", "note", "net_g"),
)


def test_a_file_is_brought_in_set_based(bench: Bench, committed: None) -> None:
    rows = bench.size(200_000, 400)
    farm = _farm()
    content = _file(rows)
    _send(farm, content)
    stored = _copied_out()
    took = _by_turns(bench, farm, content, stored)
    work = f"import of {rows:,} new rows"
    copy = took["copy"]
    bench.note_at_most(OF_BARE_COPY, f"{work}, a bare COPY", copy, took["import"])
    bench.note_only(f"{work}, the triggers' share of a COPY", copy, took["copy with triggers"])
    bench.note_at_least(
        FASTER_THAN_BULK_CREATE,
        f"{work}, bulk_create(update_conflicts), scaled",
        took["bulk_create of a row"] * rows,
        took["import"],
    )
    bench.note_at_least(
        FASTER_THAN_SERIALIZER,
        f"{work}, a serializer with many=True, scaled",
        took["serializer of a row"] * rows,
        took["import"],
    )
    bench.note_at_least(AGAIN, f"the same file of {rows:,} rows again", copy, took["again"])


def _by_turns(bench: Bench, farm: Farm, content: bytes, stored: bytes) -> dict[str, float]:
    """Seconds of each side, all in every run, from an empty table."""
    took: dict[str, list[float]] = defaultdict(list)
    some, few = bench.size(20_000, 100), bench.size(1_000, 20)
    for _ in range(RUNS if bench.is_full else 1):
        took["copy"].append(_from_empty(lambda: _copy_in(stored, triggers=False)))
        took["copy with triggers"].append(_from_empty(lambda: _copy_in(stored, triggers=True)))
        objects = list(HarvestWeight.objects.order_by("pk")[:some])
        took["bulk_create of a row"].append(_from_empty(partial(_bulk_create, objects)) / some)
        sent = [PlainSerializer(one).data for one in objects[:few]]
        took["serializer of a row"].append(_from_empty(partial(_serialize, sent)) / few)
        _empty()
        took["import"].append(_send(farm, content))
        took["again"].append(_send(farm, content))
    return {name: median(times) for name, times in took.items()}


class PlainSerializer(serializers.ModelSerializer):
    class Meta:
        model = HarvestWeight
        fields = ENTERED


def _serialize(rows: list[Any]) -> None:
    serializer = PlainSerializer(data=rows, many=True)
    serializer.is_valid(raise_exception=True)
    with transaction.atomic():
        serializer.save()


def _bulk_create(objects: list[HarvestWeight]) -> None:
    changed = [name for name in ENTERED if name != "farm"]
    with transaction.atomic():
        HarvestWeight.objects.bulk_create(
            objects,
            batch_size=1_000,
            update_conflicts=True,
            unique_fields=["farm", "import_key"],
            update_fields=changed,
        )


def _send(farm: Farm, content: bytes) -> float:
    """Seconds from the stored upload to the committed report."""
    received = receive(farm=farm, file_name="harvest.csv", content=content, unit="kg")
    took = seconds(lambda: load.run(received.pk))
    received.refresh_from_db()
    assert received.state == "landed", received.explanation
    return took


def _copied_out() -> bytes:
    out = BytesIO()
    statement = f"COPY (SELECT {', '.join(COLUMNS)} FROM records_harvestweight ORDER BY id)"
    with _owner() as database, database.cursor().copy(f"{statement} TO STDOUT") as copy:
        for chunk in copy:
            out.write(chunk)
    return out.getvalue()


def _copy_in(stored: bytes, *, triggers: bool) -> None:
    """The least code that puts as many rows into the same table: its constraints and indexes."""
    switch = "ENABLE" if triggers else "DISABLE"
    statement = f"COPY records_harvestweight ({', '.join(COLUMNS)}) FROM STDIN"
    with _owner() as database:
        database.execute(f"ALTER TABLE records_harvestweight {switch} TRIGGER USER")
        with database.transaction(), database.cursor().copy(statement) as copy:
            copy.write(stored)
        database.execute("ALTER TABLE records_harvestweight ENABLE TRIGGER USER")


def _from_empty(work: Callable[[], object]) -> float:
    _empty()
    return seconds(work)


def _empty() -> None:
    tables = ", ".join(f"records_{table}" for table in WRITTEN)
    with _owner() as database:
        database.execute(f"TRUNCATE {tables} CASCADE")
    HarvestImport.objects.filter(state="landed").update(state="undone")


def _owner() -> Any:
    return owner_of(connection.settings_dict["NAME"])


def _farm() -> Farm:
    place = make_place("SIZE")
    Block.objects.bulk_create(
        Block(farm=place.farm, code=f"B{number:03}") for number in range(BLOCKS)
    )
    Grade.objects.create(farm=place.farm, code="B", is_marketable=True)
    return place.farm


def _file(rows: int) -> bytes:
    rng = random.Random(5)
    first = dt.date(2025, 1, 1)
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(HEADINGS)
    for number in range(rows):
        day = first + dt.timedelta(days=number * 360 // rows)
        writer.writerow(
            [
                *(day.isoformat(), f"B{rng.randrange(BLOCKS):03}", rng.choice("ABC")),
                *(rng.randrange(50, 3_000) / 10, rng.randrange(1, 20)),
                *(f"D{number // 20:06}", number % 20 + 1, rng.choice(["Ana", "Rui", "Eva; Rui"])),
                "wet" if number % 50 == 0 else "",
            ]
        )
    return text.getvalue().encode()
