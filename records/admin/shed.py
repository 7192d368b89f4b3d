"""Deliveries, intakes with what sorting found, and lots with what was packed into them."""

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from orchard.access import Area
from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.columns import column, kilos
from records.admin.doors import caller_of
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.lines import LinesInline, LinkedForm, linked
from records.admin.plants import BLOCK, CULTIVAR, FARM
from records.models import Delivery, Intake, Lot, LotLine, SortedWeight

CO_OP = column("co_op__code", "co-op")
NET = kilos("net_g", "net kg")


class DeliveryForm(LinkedForm):
    links = {"carried_weights": "weights"}
    aliases = {"weights": "carried_weights"}

    carried_weights = linked(Delivery, "weights", "Weighings", "What left the farm together.")


@admin.register(Delivery)
class DeliveryAdmin(RecordAdmin):
    shared = ()
    form = DeliveryForm
    fields = ("farm", "co_op", "delivered_on", "docket", "carried_weights", "note", *ORIGIN)
    derived = ORIGIN
    sections = ORIGIN_SECTION
    offered = ("co_op",)
    autocomplete_fields = ("farm", "co_op")
    date_hierarchy = "delivered_on"
    list_display = ("delivered_on", FARM, CO_OP, "docket", "note", "retired_on")
    list_select_related = ("farm", "co_op")
    list_filter = (("farm", LinkFilter), ("co_op", LinkFilter), "delivered_on", "retired_on")
    search_fields = ("farm__code", "co_op__code", "docket", "note")
    ordering = ("-delivered_on", "-id")


class SortedWeights(LinesInline):
    model = SortedWeight
    area = Area.HARVEST
    given = "sorted_weights"
    verbose_name = "line"
    verbose_name_plural = "What sorting found"
    fields = ("grade", "co_op_grade", "reject_reason", "weight", "unit")
    derived = (NET,)
    autocomplete_fields = ("grade", "co_op_grade")
    select_related = ("grade__farm", "co_op_grade__co_op")


@admin.register(Intake)
class IntakeAdmin(RecordAdmin):
    """Lines of what a packing shed received. What the scale leaves is shown, not entered."""

    fields = (
        "farm",
        "co_op",
        "delivery",
        "received_on",
        "received_at",
        "docket",
        "block",
        "cultivar",
        "weight",
        "unit",
        "weight_kind",
        "containers",
        "container",
        "tare_g",
        "container_tare_g",
        "net_g",
        "cooled_on",
        "cooling_location",
        "note",
        *ORIGIN,
    )
    shared = tuple(
        set(fields)
        - {"delivery", "cooled_on", "cooling_location", "note", "recorded_at", "created_by"}
    )
    derived = ("container_tare_g", "net_g", *ORIGIN)
    fixed = ("co_op",)
    sections = {
        "What": ("block", "cultivar"),
        "How much": (
            "weight",
            "unit",
            "weight_kind",
            "containers",
            "container",
            "tare_g",
            "container_tare_g",
            "net_g",
        ),
        "Cooling": ("cooled_on", "cooling_location"),
        **ORIGIN_SECTION,
    }
    offered = ("co_op",)
    inlines = (SortedWeights,)
    autocomplete_fields = ("farm", "co_op", "delivery", "block", "cultivar", "container")
    date_hierarchy = "received_on"
    list_display = (
        "received_on",
        FARM,
        CO_OP,
        BLOCK,
        CULTIVAR,
        "docket",
        "containers",
        NET,
        "retired_on",
    )
    list_select_related = ("farm", "co_op", "block", "cultivar")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        ("co_op", LinkFilter),
        "received_on",
        "retired_on",
    )
    search_fields = ("farm__code", "co_op__code", "block__code", "cultivar__name", "docket")
    ordering = ("-received_on", "-id")


class LotLines(LinesInline):
    model = LotLine
    area = Area.HARVEST
    given = "lines"
    verbose_name = "intake"
    verbose_name_plural = "What was packed"
    fields = ("intake", "weight", "unit")
    derived = (NET,)
    autocomplete_fields = ("intake",)
    select_related = ("intake__farm",)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        """A farm whose fruit is in a co-op's lot sees its own lines of it."""
        lines = LotLine.objects.all().visible_to(caller_of(request))
        rows: QuerySet[Any] = super().get_queryset(request)
        return rows.filter(pk__in=lines.values("pk"))


@admin.register(Lot)
class LotAdmin(RecordAdmin):
    shared = ()
    fields = (
        "farm",
        "co_op",
        "code",
        "packed_on",
        "product",
        "pack_unit",
        "pack_count",
        "packing_document",
        "shipped_on",
        "shipped_to",
        "shipped_to_location",
        "shipped_count",
        "shipping_document",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    fixed = ("co_op", "code")
    sections = {
        "What was packed": ("product", "pack_unit", "pack_count", "packing_document"),
        "Shipping": (
            "shipped_on",
            "shipped_to",
            "shipped_to_location",
            "shipped_count",
            "shipping_document",
        ),
        **ORIGIN_SECTION,
    }
    inlines = (LotLines,)
    autocomplete_fields = ("farm", "co_op")
    date_hierarchy = "packed_on"
    list_display = ("code", FARM, CO_OP, "packed_on", "shipped_on", "shipped_to", "retired_on")
    list_select_related = ("farm", "co_op")
    list_filter = (
        ("farm", LinkFilter),
        ("co_op", LinkFilter),
        "packed_on",
        "shipped_on",
        "retired_on",
    )
    search_fields = ("code", "farm__code", "co_op__code", "shipped_to")
    ordering = ("-packed_on", "-id")

    def _is_on_page(self, name: str, obj: Any) -> bool:
        """A packer's note may name other farms, so it is the packer's own."""
        return super()._is_on_page(name, obj) and not (
            name == "note" and getattr(obj, "of_others", False)
        )
