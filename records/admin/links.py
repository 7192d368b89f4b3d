"""Links to other records on a page: what they offer, and rows edited within another's page."""

from typing import Any, ClassVar

from django.contrib import admin
from django.contrib.admin.widgets import RelatedFieldWidgetWrapper
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.text import capfirst

from orchard.access import Area
from records.admin.columns import words
from records.admin.doors import caller_of
from records.admin.forms import LabelledChoice, RecordForm
from records.models import CoOp, Farm


class Choices:
    """Links offer what the person may see; farms and co-ops, where they may write."""

    admin_site: Any
    model: Any
    # The area that decides, where it is not the model's own.
    area: Area | None = None
    # Links to farms and co-ops that offer all that the person sees: they own nothing by them.
    offered: ClassVar[tuple[str, ...]] = ()

    @property
    def held_area(self) -> Area:
        return self.area if self.area is not None else self.model.area

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        kwargs.setdefault("queryset", self._rows_for(db_field, request))
        kwargs.setdefault("form_class", LabelledChoice)
        kwargs.setdefault("label", capfirst(words(db_field.name)))
        parent: Any = super()
        return parent.formfield_for_foreignkey(db_field, request, **kwargs)

    def formfield_for_dbfield(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        """Linked records are deleted on their own pages, if at all."""
        parent: Any = super()
        field = parent.formfield_for_dbfield(db_field, request, **kwargs)
        if isinstance(getattr(field, "widget", None), RelatedFieldWidgetWrapper):
            field.widget.can_delete_related = False
        return field

    def _rows_for(self, link: Any, request: HttpRequest) -> QuerySet[Any]:
        caller, area, model = caller_of(request), self.held_area, link.remote_field.model
        rows: QuerySet[Any] = self.admin_site.get_model_admin(model).get_queryset(request)
        if link.name in self.offered:
            return rows
        if model is Farm:
            farms = Farm.objects.all().where_caller_may("writes", area, caller)
            return rows.filter(pk__in=farms.values("pk"))
        if model is CoOp and not caller.is_platform_admin:
            return rows.filter(pk__in=caller.co_ops_with("writes", area))
        return rows


class PlatformInline(Choices, admin.TabularInline):
    """Rows within another's page, for platform admins; others find them in a list of their own."""

    form: Any = RecordForm
    fields: ClassVar[Any] = ()
    extra = 0

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows: QuerySet[Any] = self.admin_site.get_model_admin(self.model).get_queryset(request)
        return rows

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin
