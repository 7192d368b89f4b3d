"""Stores what the demo's people did and saw in the field, by the services of all records."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from orchard.demo import cast as demo
from orchard.demo.fieldwork import Deed, fieldwork
from records import models
from records.services.saving import save

TREES_COUNTED = 5


def load_fieldwork(cast: demo.Cast) -> None:
    blocks = {
        (block.farm.code, block.code): block
        for block in models.Block.objects.select_related("farm")
    }
    cultivars = {cultivar.name: cultivar for cultivar in models.Cultivar.objects.all()}
    for deed in fieldwork(cast):
        block = blocks[deed.farm, deed.block]
        people = cast.workers(deed.farm)[:1]
        about: dict[str, Any] = {"farm": block.farm, "block": block, "people": people}
        match deed.what:
            case "pruning":
                save(_pruning(deed, about))
            case "stage":
                save(_stage(deed, about))
            case "visit":
                _visit(deed, about, cultivars[deed.cultivar])
            case "count":
                save(_count(deed, about))


def _pruning(deed: Deed, about: dict[str, Any]) -> models.TaskLog:
    return models.TaskLog(kind="pruning", done_on=deed.on, minutes=deed.minutes, **about)


def _stage(deed: Deed, about: dict[str, Any]) -> models.GrowthStage:
    return models.GrowthStage(
        bbch=deed.detail, observed_on=deed.on, trees_seen=2, trees_looked_at=10, **about
    )


def _visit(deed: Deed, about: dict[str, Any], cultivar: models.Cultivar) -> None:
    """Pollen of the same cultivar, collected at dawn and brushed on the same morning."""
    zone = ZoneInfo(about["farm"].time_zone)
    batch = save(
        models.PollenBatch(
            farm=about["farm"],
            collected_at=dt.datetime.combine(deed.on, dt.time(6, 30), tzinfo=zone),
            stage="male",
        ),
        donor_cultivars=[cultivar],
    )
    save(
        models.PollinationRound(
            cultivar=cultivar,
            method="brush",
            pollen_batch=batch,
            pollinated_on=deed.on,
            started_at=dt.time(7),
            flowers=deed.amount,
            minutes=deed.minutes,
            **about,
        )
    )


def _count(deed: Deed, about: dict[str, Any]) -> models.FruitCount:
    return models.FruitCount(
        kind=deed.detail,
        counted="whole-trees",
        counted_on=deed.on,
        trees_looked_at=TREES_COUNTED,
        fruit=deed.amount,
        minutes=deed.minutes,
        **about,
    )
