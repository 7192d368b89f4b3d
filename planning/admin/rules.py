"""Task rules, figures and the settings of a farm's schedule."""

from typing import Any

from django import forms
from django.contrib import admin
from django.db import transaction
from django.http import HttpRequest

from planning.compute.figures import DECLARED
from planning.models import ScheduleSetting, SpeciesFigure, TaskRule
from planning.models.rule_checks import (
    DATES,
    DAYS,
    HEAT,
    ONLY_WHILE,
    REPEAT,
    REPEAT_END,
    STAGE,
    UNTIL,
    WORK,
)
from planning.services.species_figures import save_figure
from planning.services.task_rules import delete_rule, save_rule
from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter, OfFarmFilter

FARM = column("farm__code", "farm")
BLOCK = column("block__code", "block")


@admin.register(TaskRule)
class TaskRuleAdmin(RecordAdmin):
    fields = (
        *("farm", "block", "species", "code", "kind", "detail", "title", "noun"),
        *("is_active", "origin", "source", "trigger", "early_days"),
        *(*DATES, "because"),
        *(*WORK, *STAGE, "shown_by", "after_event", *HEAT, *DAYS),
        *(*REPEAT, *REPEAT_END, *UNTIL),
        *ONLY_WHILE,
    )
    fixed = ("block", "species", "code")
    derived = ("origin",)
    sections = {
        "Between two days of every year": (*DATES, "because"),
        "Days around work, a growth stage, an event or heat": (
            *(*WORK, *STAGE, "shown_by", "after_event", *HEAT, *DAYS),
        ),
        "Repeats, and what ends it": (*REPEAT, *REPEAT_END, *UNTIL),
        "Only while a record is missing": ONLY_WHILE,
    }
    autocomplete_fields = ("farm", "block")
    list_display = ("title", FARM, BLOCK, "species", "kind", "trigger", "is_active", "origin")
    list_select_related = ("farm", "block__farm", "species")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        "species",
        "kind",
        "trigger",
        "origin",
        "is_active",
    )
    search_fields = ("title", "code", "farm__code", "block__code")
    ordering = ("farm__code", "species__common_name", "code", "id")

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        with transaction.atomic():
            save_rule(obj)
            self.require_writable(request, obj)

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        delete_rule(obj)


@admin.register(ScheduleSetting)
class ScheduleSettingAdmin(RecordAdmin):
    fields = ("farm", "climate", "days_ahead", "works_from", "works_until", "crew_size")
    autocomplete_fields = ("farm",)
    list_display = (
        *(FARM, "climate", "days_ahead", "works_from", "works_until", "crew_size", "updated_at"),
    )
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "climate")
    search_fields = ("farm__code",)
    ordering = ("farm__code",)


@admin.register(SpeciesFigure)
class SpeciesFigureAdmin(RecordAdmin):
    fields = ("farm", "species", "cultivar", "name", "value", "source")
    fixed = ("species", "cultivar", "name")
    autocomplete_fields = ("farm", "cultivar")
    list_display = (FARM, "species", "cultivar", "name", "value", "source")
    list_select_related = ("farm", "species", "cultivar")
    list_filter = (("farm", LinkFilter), "species", "name")
    search_fields = ("name", "farm__code")
    ordering = ("farm__code", "species__common_name", "name", "id")

    def formfield_for_dbfield(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        if db_field.name != "name":
            return super().formfield_for_dbfield(db_field, request, **kwargs)
        return forms.ChoiceField(
            choices=[
                (
                    name,
                    f"{name}: {declared.meaning.lower()}{declared.unit and f', {declared.unit}'}",
                )
                for name, declared in DECLARED.items()
            ]
        )

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        with transaction.atomic():
            save_figure(obj)
            self.require_writable(request, obj)
