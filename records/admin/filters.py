"""Filters of lists: they offer what the person may see, by name, and only then."""

from typing import Any
from uuid import UUID

from django.contrib import admin
from django.db.models import Field, Q, QuerySet
from django.http import HttpRequest

from orchard import clock
from records.admin.columns import words
from records.admin.labels import label
from records.querysets import CultivarQuerySet


class LinkFilter(admin.RelatedFieldListFilter):
    """Rows that lead to one record."""

    def __init__(self, field: Any, *args: Any, **kwargs: Any) -> None:
        super().__init__(field, *args, **kwargs)
        self.title = words(field.name)

    def field_choices(
        self, field: Field, request: HttpRequest, model_admin: admin.ModelAdmin
    ) -> Any:
        return [(row.pk, label(row)) for row in self.rows(field, request, model_admin)]

    def rows(self, field: Any, request: HttpRequest, model_admin: Any) -> QuerySet[Any]:
        linked = model_admin.admin_site.get_model_admin(field.remote_field.model)
        rows: QuerySet[Any] = linked.get_queryset(request)
        return rows

    def has_output(self) -> bool:
        """Also with one choice: a farmer's blocks are offered once the only farm is chosen."""
        return bool(self.lookup_choices)


class OfFarmFilter(LinkFilter):
    """Offers the chosen farm's records; those of all farms would be too many to list."""

    def rows(self, field: Any, request: HttpRequest, model_admin: Any) -> QuerySet[Any]:
        rows = super().rows(field, request, model_admin)
        farm_id = _uuid(request.GET.get("farm__id__exact", ""))
        if farm_id is None:
            return rows.none()
        if isinstance(rows, CultivarQuerySet):
            return rows.usable_on(farm_id)
        return rows.filter(farm_id=farm_id)


class Standing(admin.SimpleListFilter):
    """Trees that stand today, or have been removed."""

    title = "standing"
    parameter_name = "standing"
    # What it tells of a tree.
    admin_order_field = "removed_on"

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        return [("yes", "standing"), ("no", "removed")]

    def queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> QuerySet[Any]:
        removed = Q(removed_on__lte=clock.today("UTC"))
        match self.value():
            case "yes":
                return queryset.exclude(removed)
            case "no":
                return queryset.filter(removed)
        return queryset


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
