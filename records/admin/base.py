"""What all pages of the web admin share.

Rows come from `visible_to` and changes are bounded by `writable_by`; writes go through
`records.services.saving`, and what is refused there is shown at the form. Where only a member's
harvest share shows a row, its page tells no more than that share, and lists tell co-op staff only
what every member shares.
"""

from collections.abc import Callable, Iterator
from typing import Any, ClassVar

from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import ForeignKey, JSONField, Model, ProtectedError, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse

from records.admin import history
from records.admin.columns import (
    Shown,
    document,
    link,
    linked_records,
    needed,
    page_of,
    rows_of,
    way_to,
)
from records.admin.doors import caller_of, may_read_history, sees_shares, visible, writable
from records.admin.forms import REFUSALS, RecordForm, in_use, refusal_of
from records.admin.labels import label
from records.admin.lines import Lines, LinesInline
from records.admin.links import Choices
from records.services import saving

STAMPS = ("id", "version", "created_at", "updated_at")
# Where a record from the field or the shed came from: shown, never entered.
ORIGIN = ("harvest_import", "created_by", "recorded_at", "retired_on")
ORIGIN_SECTION: dict[str, tuple[str, ...]] = {"Where it came from": ORIGIN}


class Doors(Choices, admin.ModelAdmin):
    """Who sees and changes what, for any model; and its history."""

    # Rows that only platform admins add, whoever may correct them later.
    added_by_platform: ClassVar[bool] = False
    # What a member's harvest share shows, by field (None: everything; empty: no row at all).
    shared: ClassVar[tuple[str, ...] | None] = None
    # Lists that a record's page leads to: the model, and the link by which its rows lead back.
    leads_to: ClassVar[tuple[tuple[type[Model], str], ...]] = ()
    show_full_result_count = False
    list_per_page = 50
    object_history_template = "admin/records/history.html"

    def label(self, record: Any) -> str:
        return label(record)

    # Rows ----------------------------------------------------------------------------------

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows = visible(self.model, caller_of(request))
        if self.shared == () and sees_shares(caller_of(request)):
            rows = rows.filter(limited=False)
        if isinstance(self.list_select_related, tuple):
            rows = rows.select_related(*self.list_select_related)
        return rows.order_by(*self.get_ordering(request))

    def _is_behind(self, door: Callable[..., QuerySet[Any]], request: Any, record: Any) -> bool:
        """Whether a record lies behind a door; asked once a request, as pages ask many times."""
        if not hasattr(request, "known"):
            request.known = {}
        key = (door.__name__, record.pk)
        if key not in request.known:
            request.known[key] = door(self.model, caller_of(request)).filter(pk=record.pk).exists()
        found: bool = request.known[key]
        return found

    # Rights --------------------------------------------------------------------------------

    def _may_ever(self, kind: str, request: HttpRequest) -> bool:
        caller = caller_of(request)
        return caller.may_ever(kind, self.held_area) or caller.may_ever("own", self.held_area)

    def has_module_permission(self, request: HttpRequest) -> bool:
        return self.has_view_permission(request)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        if not self._may_ever("reads", request):
            return False
        return obj is None or self._is_behind(visible, request, obj)

    def has_add_permission(self, request: HttpRequest) -> bool:
        if self.added_by_platform:
            return caller_of(request).is_platform_admin
        return self._may_ever("writes", request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        if not self._may_ever("writes", request):
            return False
        return obj is None or self._is_behind(writable, request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_change_permission(request, obj)

    # Lists ---------------------------------------------------------------------------------

    def _is_told(self, name: str, request: HttpRequest) -> bool:
        if not self.shared or not sees_shares(caller_of(request)):
            return True
        return name in {"id", "pk", *self.shared}

    def get_list_display(self, request: HttpRequest) -> Any:
        return [c for c in self.list_display if self._is_told(needed(c), request)]

    def get_list_filter(self, request: HttpRequest) -> Any:
        paths = [(each, each[0] if isinstance(each, tuple) else each) for each in self.list_filter]
        return [each for each, path in paths if self._is_told(needed(path), request)]

    def get_search_fields(self, request: HttpRequest) -> Any:
        return [
            path
            for path in self.search_fields
            if self._is_told(needed(path.lstrip("=^@")), request)
        ]

    def lookup_allowed(self, lookup: str, value: str, request: HttpRequest | None = None) -> bool:
        """No asking by address for what a list does not tell."""
        name = lookup.partition("__")[0]
        if request is None or not self._is_told(name, request):
            return False
        return super().lookup_allowed(lookup, value, request)

    # Pages ---------------------------------------------------------------------------------

    def get_form(self, request: Any, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        form: Any = super().get_form(request, obj, change=change, **kwargs)
        form.refusal = getattr(request, "refusal", None)
        return form

    def render_change_form(self, request: Any, context: Any, *args: Any, **kwargs: Any) -> Any:
        record = context.get("original")
        if record is not None:
            context["label"] = context["subtitle"] = self.label(record)
            context["may_read_history"] = may_read_history(caller_of(request), record)
            context["lists"] = list(self._lists(record, request))
        return super().render_change_form(request, context, *args, **kwargs)

    def _lists(self, record: Any, request: HttpRequest) -> Iterator[tuple[str, str]]:
        for model, path in self.leads_to:
            if self.admin_site.get_model_admin(model).has_view_permission(request):
                title = str(model._meta.verbose_name_plural)
                yield title.capitalize(), rows_of(model, **way_to(record, path))

    def history_view(
        self, request: HttpRequest, object_id: str, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        record: Any = self.get_object(request, object_id)
        if record is None or not may_read_history(caller_of(request), record):
            raise PermissionDenied
        context = {
            **self.admin_site.each_context(request),
            "title": f"History of {self.label(record)}",
            "opts": self.opts,
            "object": record,
            "label": self.label(record),
            "page": history.page(record, request.GET.get("before", "")),
        }
        return TemplateResponse(request, self.object_history_template, context)

    # Writing -------------------------------------------------------------------------------

    def changeform_view(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        """Django's, and once more with the fault in the form where saving was refused."""
        try:
            return super().changeform_view(request, *args, **kwargs)
        except REFUSALS as error:
            request.refusal = refusal_of(error)
            return super().changeform_view(request, *args, **kwargs)

    def save_formset(self, request: Any, form: Any, formset: Any, change: bool) -> None:
        formset.save(commit=False)
        if isinstance(formset, Lines):
            return
        for record in formset.deleted_objects:
            saving.delete(record, caller=caller_of(request))
        for record in [*formset.new_objects, *(record for record, _ in formset.changed_objects)]:
            saving.save(record, caller=caller_of(request))

    def save_related(self, request: Any, form: Any, formsets: Any, change: bool) -> None:
        super().save_related(request, form, formsets, change)
        for warning in getattr(form.instance, "warnings", []):
            messages.warning(request, warning["detail"])

    def require_writable(self, request: HttpRequest, record: Any) -> None:
        """A record just written must itself lie where the person may write."""
        if not writable(self.model, caller_of(request)).filter(pk=record.pk).exists():
            raise ValidationError("You may not write there.", "not-allowed")

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        saving.delete(obj, caller=caller_of(request))

    def get_deleted_objects(self, objs: Any, request: Any) -> Any:
        """Only the record itself: what refers to it is not deleted with it, but prevents it."""
        return [self.label(record) for record in objs], {}, set(), []

    def delete_view(self, request: Any, object_id: str, extra_context: Any = None) -> HttpResponse:
        try:
            return super().delete_view(request, object_id, extra_context)
        except ProtectedError as error:
            text = in_use(error)
        except ValidationError as error:
            text = " ".join(error.messages)
        messages.error(request, text)
        return HttpResponseRedirect(page_of(self.model, object_id))


class RecordAdmin(Doors):
    """A kind of record. Subclasses say what, not how.

    `fields` lists everything that its page shows. Of these, `derived` are never entered, `fixed`
    only when the record is made, and the farm follows from `farm_from`, if that is named.
    """

    form: Any = RecordForm
    fields: ClassVar[Any] = ()
    derived: ClassVar[tuple[str, ...]] = ()
    fixed: ClassVar[tuple[str, ...]] = ()
    farm_from: ClassVar[str] = ""
    # Headings below the first part of the page, and the fields under each.
    sections: ClassVar[dict[str, tuple[str, ...]]] = {}

    def get_form(self, request: Any, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        form = super().get_form(request, obj, change, **kwargs)
        form.farm_from = self.farm_from
        form.elsewhere = frozenset(inline.given for inline in self._lines())
        form.visible = {name: self._offered(link, request) for name, link in self.links.items()}
        return form

    @property
    def links(self) -> dict[str, str]:
        links: dict[str, str] = getattr(self.form, "links", {})
        return links

    def _offered(self, link: str, request: HttpRequest) -> QuerySet[Any]:
        model = self.model._meta.get_field(link).remote_field.model
        rows: QuerySet[Any] = self.admin_site.get_model_admin(model).get_queryset(request)
        return rows

    def _lines(self) -> list[Any]:
        return [inline for inline in self.inlines if issubclass(inline, LinesInline)]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        names = [name for name in self.fields if self._is_on_page(name, obj)]
        return [self._shown(name, request, obj) for name in names]

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        fields = self.get_fields(request, obj)
        under = {name: title for title, names in self.sections.items() for name in names}
        parts = [
            (title, {"fields": [f for f in fields if under.get(_name(f)) == title]})
            for title in (None, *self.sections)
        ]
        stamps = [("This record", {"fields": STAMPS, "classes": ["collapse"]})] if obj else []
        return [part for part in parts if part[1]["fields"]] + stamps

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        if obj is None:
            return ()
        names = [name for name in self.fields if self._is_read_only(name, request, obj)]
        return [*(self._shown(name, request, obj) for name in names), *STAMPS]

    def _is_on_page(self, name: str, obj: Any) -> bool:
        if obj is None:
            return name not in self.derived and not (name == "farm" and self.farm_from)
        return self.shared is None or not getattr(obj, "limited", False) or name in self.shared

    def _is_read_only(self, name: str, request: HttpRequest, obj: Any) -> bool:
        return name in {"farm", *self.fixed, *self.derived} or not self.has_change_permission(
            request, obj
        )

    def _shown(self, name: str, request: HttpRequest, obj: Any) -> str | Shown:
        if obj is None or not self._is_read_only(name, request, obj):
            return name
        if name in self.links:
            return self._linked(name, request)
        field = _field(self.model, name)
        if isinstance(field, ForeignKey):
            return link(name)
        return document(name) if isinstance(field, JSONField) else name

    def _linked(self, name: str, request: Any) -> Shown:
        """The records behind a link, as far as the person sees them; the same for a whole page."""
        shown = request.__dict__.setdefault("shown_links", {})
        if name not in shown:
            link = self.links[name]
            shown[name] = linked_records(name, link, self._offered(link, request))
        column: Shown = shown[name]
        return column

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        """A record with lines is saved together with them, by `save_related`."""
        if not self._lines():
            self._save(request, form, change, [])

    def save_related(self, request: Any, form: Any, formsets: Any, change: bool) -> None:
        if self._lines():
            lines = [formset for formset in formsets if isinstance(formset, Lines)]
            self._save(request, form, change, lines)
        super().save_related(request, form, formsets, change)

    def _save(self, request: Any, form: Any, change: bool, lines: list[Lines]) -> None:
        caller, record = caller_of(request), form.instance
        if record.pk is None:  # which formsets take from a record that is not stored yet
            record.pk = record._meta.pk.get_default()
        if not change and hasattr(record, "created_by_id"):
            record.created_by_id = caller.person_id
        saving.save(record, caller=caller, **self.rows_below(form, lines))
        self.require_writable(request, record)

    def rows_below(self, form: Any, lines: list[Lines]) -> dict[str, Any]:
        """What saving is given besides the record: its links, and lines that changed."""
        links: dict[str, Any] = form.linked_rows() if self.links else {}
        return links | {each.given: each.rows() for each in lines if each.has_changed()}


class ReadOnlyAdmin(RecordAdmin):
    """Rows that the service writes itself."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def _field(model: type[Model], name: str) -> Any:
    return next((field for field in model._meta.concrete_fields if field.name == name), None)


def _name(field: str | Shown) -> str:
    return field if isinstance(field, str) else field.__name__
