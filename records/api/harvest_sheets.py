"""`harvest-weights/sheet`: weighings as a file that an import of them reads without a question.

Codes and not ids, the headings of `records.importing.harvest`, one line a weighing. The import has
one tree a line: where several were picked together they are left out, and the last column says so.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef, QuerySet
from django.db.models.functions import JSONObject

from orchard.rest.renderers import Table
from records.choices import CropChoice, WeightKind
from records.models import HarvestWeightTree

TREES = HarvestWeightTree.objects.filter(weight_id=OuterRef("pk")).order_by(
    "tree__row", "tree__position", "tree_id"
)
PLACES = ArraySubquery(
    TREES.values(
        place=JSONObject(number="tree__number", row="tree__row", position="tree__position")
    )
)
LEFT_OUT = "Trees left out"
# What only a full right shows.
WITHHELD = ("Pickers", "Minutes", "Note")
# The date comes first: it never reads as the name of a total.
HEADINGS = (
    *("Date", "Farm", "Block", "Tree", "Row", "Position", "Cultivar", "Grade", "Crop"),
    *("Gross", "Net", "Unit", "Tare (g)", "Containers", "Container", "Fruit count"),
    *("Docket", "Ticket", *WITHHELD),
)


class Found(NamedTuple):
    """A weighing with the codes of what it names, in the order in which it is read."""

    picked_on: Any
    farm__code: str
    block__code: str
    entered_cultivar__name: str | None
    grade__code: str | None
    crop__name: str | None
    crop_chosen_by: str
    weight: Decimal | None
    unit: str
    weight_kind: str
    tare_g: int | None
    containers: int | None
    container__code: str | None
    container__tare_g: int | None
    container_tare_g: int | None
    fruit_count: int | None
    docket: str
    ticket: str
    pickers: list[str]
    minutes: int | None
    note: str
    places: list[dict[str, Any]]
    limited: bool


def read_weighings(rows: QuerySet[Any], at_most: int) -> list[Found]:
    """Those of the weighings that are kept, in one query."""
    kept = rows.filter(retired_on=None).prefetch_related(None).annotate(places=PLACES)
    return [Found(*row) for row in kept.values_list(*Found._fields)[:at_most]]


def sheet_of(found: Sequence[Found]) -> Table:
    """Without columns that no right fills: where weighings are known, a blank empties a field."""
    withheld = WITHHELD if found and all(each.limited for each in found) else ()
    beside = (LEFT_OUT,) if any(len(each.places) > 1 for each in found) else ()
    headings = [each for each in (*HEADINGS, *beside) if each not in withheld]
    lines = map(_line, found)
    return Table(
        title="harvest",
        headings=headings,
        rows=[[line[each] for each in headings] for line in lines],
    )


def _line(found: Found) -> dict[str, Any]:
    return {
        "Date": found.picked_on,
        "Farm": found.farm__code,
        "Block": found.block__code,
        **_trees(found.places),
        "Cultivar": found.entered_cultivar__name,
        "Grade": found.grade__code,
        "Crop": found.crop__name if found.crop_chosen_by == CropChoice.PERSON else None,
        **_scale(found),
        "Containers": found.containers,
        "Container": found.container__code,
        "Fruit count": found.fruit_count,
        "Docket": found.docket,
        "Ticket": found.ticket,
        **dict.fromkeys(WITHHELD),
        **({} if found.limited else _own(found)),
    }


def _own(found: Found) -> dict[str, Any]:
    return {"Pickers": _people(found.pickers), "Minutes": found.minutes, "Note": found.note}


def _people(names: Iterable[str]) -> str:
    """Each name with its semicolon, so that a comma within one stays there."""
    return "".join(f"{name}; " for name in names).strip()


def _trees(places: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The one tree; of several, how they are called."""
    one = places[0] if len(places) == 1 else {}
    called = [each["number"] or f"{each['row']}/{each['position']}" for each in places]
    return {
        "Tree": one.get("number"),
        "Row": one.get("row"),
        "Position": one.get("position"),
        LEFT_OUT: None if len(places) < 2 else "; ".join(called),
    }


def _scale(found: Found) -> dict[str, Any]:
    is_net = found.weight_kind == WeightKind.NET
    weight = None if found.weight is None else _unmistakable(found.weight)
    return {
        "Gross": None if is_net else weight,
        "Net": weight if is_net else None,
        "Unit": found.unit,
        "Tare (g)": _tare_g(found),
    }


def _tare_g(found: Found) -> int | None:
    """As it was read; as it was reckoned where the container has another tare by now."""
    is_counted = found.tare_g is None and found.weight_kind == WeightKind.GROSS
    if not is_counted or found.weight is None or found.container_tare_g == found.container__tare_g:
        return found.tare_g
    return (found.containers or 0) * (found.container_tare_g or 0)


def _unmistakable(weight: Decimal) -> Decimal:
    """No needless zeros; but never three decimals, which could be a thousand's mark."""
    plain = weight.normalize()
    places = max(0, -int(plain.as_tuple().exponent))
    return plain.quantize(Decimal(1).scaleb(-(4 if places == 3 else places)))
