"""Change ticks: what a reader that follows them sees, and what they cost."""

import random
import threading
import time
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, connections, transaction

from records.models import Block, Container, Farm, FarmTick, HarvestWeight, Job, Tombstone
from records.models.base import Record
from tests.cast import Place, make_place

WRITERS = 16
TRANSACTIONS = 20
PAGE = 40

FEED = """
SELECT tick, kind, id, version FROM (
    SELECT tick, 'block' AS kind, id, version FROM records_block WHERE farm_id = %(farm)s
    UNION ALL
    SELECT tick, 'container', id, version FROM records_container WHERE farm_id = %(farm)s
) feed WHERE (tick, kind, id) > (%(tick)s, %(kind)s, %(id)s)
ORDER BY tick, kind, id LIMIT %(limit)s
"""


class Reader:
    """Follows a farm's changes by (tick, kind, id), a page at a time."""

    def __init__(self, farm: Farm) -> None:
        self.farm = farm
        self.cursor: tuple[int, str, uuid.UUID] = (0, "", uuid.UUID(int=0))
        self.seen: list[tuple[int, str, uuid.UUID, int]] = []

    def poll(self) -> bool:
        tick, kind, key = self.cursor
        values = {"farm": self.farm.pk, "tick": tick, "kind": kind, "id": key, "limit": PAGE}
        with connection.cursor() as cursor:
            cursor.execute(FEED, values)
            rows = cursor.fetchall()
        self.seen += rows
        if rows:
            self.cursor = rows[-1][:3]
        return bool(rows)


def write_a_while(farm: Farm, seed: int) -> None:
    """Commits, rollbacks, savepoints and pauses, as writers in a hurry make them."""
    chance = random.Random(seed)
    try:
        for number in range(TRANSACTIONS):
            write_once(farm, chance, f"{seed}-{number}")
    finally:
        connections.close_all()


def write_once(farm: Farm, chance: random.Random, code: str) -> None:
    with transaction.atomic():
        block = Block.objects.create(farm=farm, code=code)
        time.sleep(chance.random() / 100)
        Container.objects.create(farm=farm, code=code, tare_g=chance.randrange(2_000))
        with transaction.atomic():
            Block.objects.create(farm=farm, code=f"{code}-undone")
            transaction.set_rollback(chance.random() < 0.5)
        if chance.random() < 0.5:
            Block.objects.filter(pk=block.pk).update(name="named")
        if chance.random() < 0.2:
            transaction.set_rollback(True)
    if chance.random() < 0.5:
        Block.objects.filter(pk=block.pk).update(name=f"{code} again")


def test_a_polling_reader_misses_and_repeats_nothing(committed: None) -> None:
    farm = make_place("OURS").farm
    writers = [threading.Thread(target=write_a_while, args=(farm, seed)) for seed in range(WRITERS)]
    reader = Reader(farm)
    for writer in writers:
        writer.start()
    while any(writer.is_alive() for writer in writers):
        reader.poll()
    while reader.poll():
        pass
    positions = [row[:3] for row in reader.seen]
    assert len(positions) == len(set(positions))
    last = {(kind, key): version for _, kind, key, version in reader.seen}
    assert last == stored_versions(farm)
    assert len(last) > WRITERS * TRANSACTIONS


def stored_versions(farm: Farm) -> dict[tuple[str, uuid.UUID], int]:
    blocks = Block.objects.filter(farm=farm).values_list("pk", "version")
    containers = Container.objects.filter(farm=farm).values_list("pk", "version")
    return {("block", key): version for key, version in blocks} | {
        ("container", key): version for key, version in containers
    }


def test_a_transaction_takes_one_tick_and_all_its_rows_carry_it(committed: None) -> None:
    farm = make_place("OURS").farm
    before = tick_of(farm)
    with transaction.atomic():
        Block.objects.create(farm=farm, code="N2")
        Container.objects.create(farm=farm, code="box", tare_g=100)
        Block.objects.filter(farm=farm).update(name="both")
    assert tick_of(farm) == before + 1
    assert set(Block.objects.filter(farm=farm).values_list("tick", flat=True)) == {before + 1}
    assert Container.objects.get(farm=farm, code="box").tick == before + 1


def test_a_rolled_back_transaction_takes_none(committed: None) -> None:
    farm = make_place("OURS").farm
    before = tick_of(farm)
    with transaction.atomic():
        Block.objects.create(farm=farm, code="N2")
        transaction.set_rollback(True)
    assert tick_of(farm) == before


def test_a_write_that_changes_nothing_keeps_version_and_tick(committed: None) -> None:
    place = make_place("OURS")
    before = Block.objects.values("version", "tick", "updated_at").get(pk=place.block.pk)
    place.block.save()
    Block.objects.filter(pk=place.block.pk).update(code=place.block.code)
    assert Block.objects.values("version", "tick", "updated_at").get(pk=place.block.pk) == before


def test_the_neighbours_tick_does_not_move(committed: None) -> None:
    ours, neighbour = make_place("OURS"), make_place("NEXT")
    before = tick_of(neighbour.farm)
    Block.objects.create(farm=ours.farm, code="N2")
    assert tick_of(neighbour.farm) == before


def test_a_deleted_row_leaves_a_tombstone_with_a_tick(committed: None) -> None:
    place = make_place("OURS")
    before = tick_of(place.farm)
    gone = Container.objects.create(farm=place.farm, code="box", tare_g=100)
    key = gone.pk
    gone.delete()
    tombstone = Tombstone.objects.get(row_id=key)
    assert (tombstone.kind, tombstone.tick) == ("records_container", before + 2)


def by_orm(place: Place) -> None:
    Block.objects.bulk_create([Block(farm=place.farm, code=f"B{n}") for n in range(3)])


def by_copy(place: Place) -> None:
    with connection.cursor() as cursor:
        copy = cursor.copy("COPY records_block (id, farm_id, code, name) FROM STDIN")
        with copy as rows:
            rows.write_row((uuid.uuid4(), place.farm.pk, "B9", ""))


def by_update(place: Place) -> None:
    Block.objects.filter(pk=place.block.pk).update(name="renamed")


def by_delete(place: Place) -> None:
    place.container.delete()


@pytest.mark.parametrize("write", [by_orm, by_copy, by_update, by_delete])
def test_any_way_of_writing_leaves_one_job(committed: None, write: Callable[[Place], None]) -> None:
    place = make_place("OURS")
    Job.objects.all().delete()
    write(place)
    write_again = Block.objects.create(farm=place.farm, code="LAST")
    assert write_again.pk
    jobs = list(Job.objects.values_list("kind", "key", "state"))
    assert jobs == [("farm-changed", str(place.farm.pk), "waiting")]


def tick_of(farm: Farm) -> int:
    return FarmTick.objects.get(farm=farm).tick


def farm_owned() -> list[type[Record]]:
    models = [
        *apps.get_app_config("records").get_models(),
        *apps.get_app_config("planning").get_models(),
    ]
    return [
        model
        for model in models
        if issubclass(model, Record) and any(field.name == "farm" for field in model._meta.fields)
    ]


# Whoever holds the link or token may see it, and whoever sent the file: they are no part of a
# farm's records.
UNSTAMPED = {"BatchFile", "Invitation", "Token"}


@pytest.mark.parametrize("model", farm_owned(), ids=lambda model: model.__name__)
def test_every_farm_owned_table_is_stamped(db: None, model: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid"
            " WHERE t.tgrelid = %s::regclass AND p.proname IN ('orchard_stamp', 'orchard_touch')",
            [model._meta.db_table],
        )
        (count,) = cursor.fetchone()
    assert count == (1 if model.__name__ in UNSTAMPED else 2)


@pytest.mark.long
def test_audit_and_ticks_cost_as_much_a_row_in_large_writes(committed: None) -> None:
    """Linear from 10,000 to 40,000 rows: quadratic would cost four times as much a row."""
    place = make_place("OURS")
    small = min(seconds_a_row(place, 10_000) for _ in range(2))
    large = seconds_a_row(place, 40_000)
    assert large < 2.5 * small


def seconds_a_row(place: Place, rows: int) -> float:
    started = time.perf_counter()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO records_harvestweight (id, farm_id, block_id, picked_on, weight, unit,"
            " weight_kind, net_g, crop_chosen_by, docket, ticket, pickers, note)"
            " SELECT uuidv7(), %s, %s, '2026-09-01', 1, 'kg', 'gross', 1000, 'date', '', '', '{}',"
            " ''"
            " FROM generate_series(1, %s)",
            [place.farm.pk, place.block.pk, rows],
        )
    assert not HarvestWeight.objects.filter(farm=place.farm, tick=None).exists()
    return (time.perf_counter() - started) / rows
