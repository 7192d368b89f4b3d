"""Deliveries of the members that deliver, week by week, and the lots that the co-op packs.

Made once the members' files have landed: a delivery names the weighings that were on it.
"""

from datetime import timedelta
from itertools import groupby

import pghistory
from django.db import transaction

from orchard.demo.cast import Cast
from orchard.demo.shed import SORTED_WITHIN
from records.models import CoOp, Delivery, HarvestWeight, Intake, Lot, SortedWeight
from records.services.saving import save

WEEK = timedelta(days=6)  # from the Saturday before to the Friday of the docket
PACKED_GRADE = "1"
CARTON_KG = 4
BUYER = "Mercearia da Ribeira Funda"


def load_deliveries(cast: Cast) -> None:
    """Each intake's docket as a delivery, and each week's first class as a lot; once."""
    co_op = CoOp.objects.get(code=cast.co_op.code)
    if Delivery.objects.filter(co_op=co_op).exists():
        return
    with pghistory.context(by="demo"), transaction.atomic():
        received = Intake.objects.filter(co_op=co_op).order_by("farm__code", "docket", "id")
        for _, intakes in groupby(received, key=lambda intake: (intake.farm_id, intake.docket)):
            _deliver(co_op, list(intakes))
        _pack(co_op)


def _deliver(co_op: CoOp, intakes: list[Intake]) -> None:
    first = intakes[0]
    week = (first.received_on - WEEK, first.received_on)
    weights = HarvestWeight.objects.kept().filter(farm_id=first.farm_id, picked_on__range=week)
    delivery = save(
        Delivery(
            farm_id=first.farm_id,
            co_op=co_op,
            delivered_on=first.received_on,
            docket=first.docket,
        ),
        weights=list(weights),
    )
    for intake in intakes:
        intake.delivery = delivery
        save(intake)


def _pack(co_op: CoOp) -> None:
    """Of every farm's fruit that came in on a day, the first class under one code."""
    best = SortedWeight.objects.filter(
        intake__co_op=co_op, co_op_grade__code=PACKED_GRADE, net_g__gt=0
    ).select_related("intake")
    by_day = groupby(
        best.order_by("intake__received_on", "intake_id"), key=lambda line: line.intake.received_on
    )
    for day, lines in by_day:
        packed = list(lines)
        cartons = sum(line.net_g for line in packed) // (CARTON_KG * 1000)
        save(
            Lot(
                co_op=co_op,
                code=f"OV{day:%y%j}",
                packed_on=day + SORTED_WITHIN,
                product=f"Fresh annonas, class {PACKED_GRADE}",
                pack_unit=f"cartons of {CARTON_KG} kg",
                pack_count=cartons,
                shipped_on=day + SORTED_WITHIN,
                shipped_to=BUYER,
                shipped_count=cartons,
            ),
            lines=[
                {"intake": line.intake, "weight": line.weight, "unit": line.unit} for line in packed
            ],
        )
