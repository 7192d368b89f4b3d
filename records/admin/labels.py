"""What a record is called where it is not on its own page."""

from typing import Any

from records.models import (
    Block,
    Container,
    CoOp,
    CoOpGrade,
    Crop,
    Cultivar,
    Delivery,
    Farm,
    FruitCount,
    Grade,
    GrowthStage,
    HarvestWeight,
    Intake,
    Lot,
    Membership,
    PollenBatch,
    PollinationRound,
    TaskLog,
    Tree,
    WeatherStation,
)


def label(record: Any, *, limited: bool | None = None) -> str:
    """A name that tells records of different farms and blocks apart.

    Where only a harvest share shows the record, its name tells no more than that.
    """
    if limited is None:
        limited = getattr(record, "limited", False)
    match record:
        case Farm() | CoOp():
            return record.code
        case Block() | Container() | Grade():
            return f"{record.farm.code} {record.code}"
        case Tree():
            return f"{record.farm.code} {record.block.code} {tree_name(record, limited=limited)}"
        case Crop():
            name = record.name if limited else str(record)
            return f"{record.farm.code} {record.block.code} {name}"
        case TaskLog() | GrowthStage() | PollinationRound() | FruitCount():
            return f"{record.farm.code} {record.block.code} {record}"
        case HarvestWeight() | PollenBatch() | Delivery() | Intake():
            return f"{record.farm.code} {record}"
        case Lot(farm=Farm() as owner) | Lot(co_op=CoOp() as owner):
            return f"{owner.code} {record}"
        case WeatherStation(farm=Farm() as owner) | WeatherStation(co_op=CoOp() as owner):
            return f"{owner.code} {record}"
        case CoOpGrade():
            return f"{record.co_op.code} {record.code}"
        case Membership():
            return f"{record.farm.code} in {record.co_op.code}"
        case Cultivar(farm=Farm() as farm):
            return f"{record.name} ({farm.code})"
        case _:
            return str(record)


def tree_name(tree: Tree, *, limited: bool) -> str:
    return (tree.number or "(no number)") if limited else str(tree)
