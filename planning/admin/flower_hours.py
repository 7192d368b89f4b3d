"""In which hours a farm brushes flowers and gathers pollen."""

from typing import Any

from django import forms
from django.contrib import admin
from django.db import transaction

from planning.compute.pollination_windows import SOURCES
from planning.models import FlowerHours
from planning.models.flower_hours import fields_of
from planning.services.flower_hours import save_flower_hours
from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter


@admin.register(FlowerHours)
class FlowerHoursAdmin(RecordAdmin):
    fields = (
        *("farm", "species", "shipped_source", "source"),
        *fields_of("brush"),
        *fields_of("gather"),
    )
    fixed = ("species",)
    sections = {
        "Own hours of brushing": fields_of("brush"),
        "Own hours of gathering pollen": fields_of("gather"),
    }
    autocomplete_fields = ("farm",)
    list_display = (column("farm__code", "farm"), "species", "shipped_source", "source")
    list_select_related = ("farm", "species")
    list_filter = (("farm", LinkFilter), "species")
    search_fields = ("farm__code", "source", "shipped_source")
    ordering = ("farm__code", "species__common_name", "id")

    def formfield_for_dbfield(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        if db_field.name != "shipped_source":
            return super().formfield_for_dbfield(db_field, request, **kwargs)
        return forms.ChoiceField(
            choices=[
                ("", "none: own hours below"),
                *(
                    (
                        each.code,
                        f"{each.species}, {each.code}: {(each.brush.source or each.gather.source)}",
                    )
                    for each in SOURCES
                ),
            ],
            required=False,
            help_text=db_field.help_text,
        )

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        with transaction.atomic():
            save_flower_hours(obj)
            self.require_writable(request, obj)
