"""Rules of deliveries, intakes and lots."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from orchard import clock
from orchard.access import Caller
from records.choices import SORTING_TOLERANCE
from records.models import CoOp, Delivery, Intake, Lot, LotLine, Membership
from records.services.saving.dates import check_not_in_future, check_past
from records.services.saving.faults import fault
from records.services.saving.links import Given, linked
from records.services.saving.weights import weigh, with_net


def prepare_delivery(delivery: Delivery, given: Given) -> None:
    check_not_in_future(delivery)
    for weight in linked(delivery, given, "weights"):
        if weight.picked_on > delivery.delivered_on:
            text = f"A weighing of {weight.picked_on} was picked only after this delivery."
            raise fault("weights", text, "picked-after-delivery")


def prepare_intake(intake: Intake, given: Given) -> None:
    check_not_in_future(intake)
    if intake.cooled_on is not None:
        check_past(intake.cooled_on, intake.farm.time_zone, "cooled_on")
    weigh(intake)
    _check_membership(intake)
    _check_delivery(intake)
    if "sorted_weights" in given:
        given["sorted_weights"] = [with_net(line) for line in given["sorted_weights"]]
        _check_co_op_grades(intake, given["sorted_weights"])
    _check_sorted(intake, _line_grams(intake, given, "sorted_weights"))
    if not intake._state.adding:
        check_packed(intake, _packed_g(intake), "weight")


def _check_membership(intake: Intake) -> None:
    """The co-op that received it had the farm as a member on that day."""
    if intake.co_op_id is None:
        return
    members = Membership.objects.on(intake.received_on)
    if not members.filter(farm_id=intake.farm_id, co_op_id=intake.co_op_id).exists():
        text = f"The farm was no member of this co-op on {intake.received_on}."
        raise fault("co_op", text, "no-member")


def _check_delivery(intake: Intake) -> None:
    if intake.delivery_id and intake.delivery.delivered_on > intake.received_on:
        text = f"The delivery left the farm only on {intake.delivery.delivered_on}."
        raise fault("delivery", text, "received-before-delivery")


def _check_co_op_grades(intake: Intake, lines: list[dict[str, Any]]) -> None:
    for line in lines:
        if line.get("co_op_grade") and line["co_op_grade"].co_op_id != intake.co_op_id:
            text = "A co-op's grade is used by the co-op that received the fruit."
            raise fault("sorted_weights", text, "grade-of-another-co-op")
        if line.get("grade") and line["grade"].farm_id != intake.farm_id:
            raise fault("sorted_weights", "A grade of another farm.", "other-farm")


def _check_sorted(intake: Intake, grams: list[int]) -> None:
    """Grades and rejects stay within the net, but for a scale's error and a gram a line."""
    allowed_g = intake.net_g * (1 + SORTING_TOLERANCE) + len(grams)
    if sum(grams) > allowed_g:
        text = f"Grades and rejects come to {kg(sum(grams))}, above the net {kg(intake.net_g)}."
        raise fault("sorted_weights", text, "grades-above-net")


def _line_grams(record: Any, given: Given, name: str) -> list[int]:
    if name in given:
        return [line["net_g"] for line in given[name]]
    return list(getattr(record, name).values_list("net_g", flat=True))


def prepare_lot(lot: Lot, given: Given) -> None:
    _check_lot_dates(lot)
    if "lines" not in given:
        _check_stored_lines(lot)
        return
    _hold(line["intake"] for line in given["lines"])
    given["lines"] = [_lot_line(lot, line) for line in given["lines"]]
    named = [line["intake"].pk for line in given["lines"]]
    if len(set(named)) < len(named):
        raise fault("lines", "An intake is named twice; add its weights up.", "intake-twice")
    for line in given["lines"]:
        other_g = _packed_g(line["intake"], besides=lot)
        check_packed(line["intake"], other_g + line["net_g"], "lines")


def check_may_go(lot: Lot) -> None:
    """A code that left the shed is never free again, so its lot stays (21 CFR 1.1320)."""
    if lot.shipped_on is not None:
        text = f"Lot {lot} was shipped: its code stays assigned, and the lot with it."
        raise fault("shipped_on", text, "lot-was-shipped")


def check_may_pack(given: Given, caller: Caller) -> None:
    """Only the fruit of farms whose harvest the caller may edit goes into a lot."""
    named = {line["intake"].pk for line in given.get("lines", ())}
    editable = Intake.objects.all().writable_by(caller).filter(pk__in=named)
    if editable.count() < len(named):
        text = "You may not edit the harvest of all the farms in this lot."
        raise fault("lines", text, "not-allowed")


def _hold(intakes: Iterable[Intake]) -> None:
    """Lock them, so that two lots packed at once cannot share the same kilos."""
    keys = {intake.pk for intake in intakes}
    list(Intake.objects.select_for_update().filter(pk__in=keys).order_by("pk"))


def _check_stored_lines(lot: Lot) -> None:
    if not lot._state.adding and lot.lines.filter(intake__received_on__gt=lot.packed_on).exists():
        text = "Some of its fruit was received after that day."
        raise fault("packed_on", text, "packed-before-intake")


def _check_lot_dates(lot: Lot) -> None:
    """Judged by the farm's calendar, or by that of a co-op's easternmost member."""
    zone = _time_zone(lot)
    check_past(lot.packed_on, zone, "packed_on")
    if lot.shipped_on is not None:
        check_past(lot.shipped_on, zone, "shipped_on")


def _time_zone(lot: Lot) -> str:
    if lot.farm is not None:
        return lot.farm.time_zone
    return easternmost(lot.co_op) if lot.co_op else "UTC"


def easternmost(co_op: CoOp) -> str:
    """The zone of the member where it is latest: a co-op has no clock of its own."""
    zones = Membership.objects.filter(co_op=co_op).values_list("farm__time_zone", flat=True)
    return max({*zones} or {"UTC"}, key=clock.today)


def _lot_line(lot: Lot, line: dict[str, Any]) -> dict[str, Any]:
    """A co-op packs what it received; a farm packs its own fruit."""
    intake = line["intake"]
    is_here = intake.co_op_id == lot.co_op_id if lot.co_op_id else intake.farm_id == lot.farm_id
    if not is_here:
        raise fault("lines", f"{intake} was not received here.", "intake-elsewhere")
    if intake.received_on > lot.packed_on:
        raise fault("lines", f"{intake} was received after packing.", "packed-before-intake")
    return {**with_net(line), "farm_id": intake.farm_id}


def _packed_g(intake: Intake, besides: Lot | None = None) -> int:
    lines = LotLine.objects.filter(intake=intake).exclude(lot=besides)
    return lines.aggregate(total=Sum("net_g"))["total"] or 0


def check_packed(intake: Intake, packed_g: int, field: str) -> None:
    """An intake fills several lots, but with no more than there was of it."""
    if packed_g > intake.net_g * (1 + SORTING_TOLERANCE):
        text = f"{kg(packed_g)} of {intake} packed into lots, above its net {kg(intake.net_g)}."
        raise fault(field, text, "packed-above-net")


def kg(grams: int) -> str:
    return f"{Decimal(grams) / 1000:f} kg"
