"""Plain records of field and shed on our farm, saved the way in that every record takes."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from records import models
from records.services.saving import save
from tests.cast import Place, make_cultivar

BLOOM = dt.date(2026, 5, 20)
COLLECTED = dt.datetime(2026, 5, 20, 5, 30, tzinfo=dt.UTC)  # 06:30 of Madeira's summer time


def make_tree(place: Place, position: int, **values: Any) -> models.Tree:
    tree: models.Tree = save(
        models.Tree(
            **{
                "farm": place.farm,
                "block": place.block,
                "row": 1,
                "position": position,
                "cultivar": make_cultivar(),
                "planted_on": dt.date(2018, 3, 1),
                **values,
            }
        )
    )
    return tree


def make_block(place: Place, code: str = "S2") -> models.Block:
    return models.Block.objects.create(farm=place.farm, code=code)


def make_batch(place: Place, donors: Any = None, **values: Any) -> models.PollenBatch:
    batch: models.PollenBatch = save(
        models.PollenBatch(
            **{"farm": place.farm, "collected_at": COLLECTED, "stage": "male", **values}
        ),
        **(donors or {"donor_cultivars": [make_cultivar("Brumel")]}),
    )
    return batch


def make_round(place: Place, rows: Any = None, **values: Any) -> models.PollinationRound:
    if "pollen_batch" not in values and values.get("method", "brush") == "brush":
        values["pollen_batch"] = make_batch(place)
    round_: models.PollinationRound = save(
        models.PollinationRound(
            **{
                "farm": place.farm,
                "block": place.block,
                "cultivar": make_cultivar(),
                "method": "brush",
                "pollinated_on": BLOOM,
                "flowers": 40,
                **values,
            }
        ),
        **(rows or {}),
    )
    return round_


def make_count(place: Place, rounds: list[Any], **values: Any) -> models.FruitCount:
    count: models.FruitCount = save(
        models.FruitCount(
            **{
                "farm": place.farm,
                "block": place.block,
                "counted_on": dt.date(2026, 6, 20),
                "kind": "initial",
                "flowers_looked_at": 20,
                "fruit": 18,
                **values,
            }
        ),
        rounds=rounds,
    )
    return count


def make_intake(place: Place, rows: Any = None, **values: Any) -> models.Intake:
    intake: models.Intake = save(
        models.Intake(
            **{
                "farm": place.farm,
                "received_on": dt.date(2026, 9, 11),
                "weight": Decimal(100),
                "unit": "kg",
                "weight_kind": "net",
                **values,
            }
        ),
        **(rows or {}),
    )
    return intake


def line(weight: Any, unit: str = "kg", **values: Any) -> dict[str, Any]:
    return {"weight": Decimal(str(weight)), "unit": unit, **values}


def faults_of(error: ValidationError) -> dict[str, list[str]]:
    """Codes by the field that each fault names."""
    return {name: [one.code for one in found] for name, found in error.error_dict.items()}
