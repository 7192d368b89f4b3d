"""Rows below a record, saved together with it: records it is linked to, and lines of its own.

`records.services.saving` checks a record and the rows below it as one thing, so none of them is
stored by itself. Rows that the person does not see stay as they are.
"""

from typing import Any, ClassVar

from django import forms
from django.contrib import admin
from django.contrib.admin.widgets import AutocompleteSelectMultiple
from django.core.exceptions import ValidationError
from django.db.models import CheckConstraint, ForeignKey, Model, QuerySet
from django.http import HttpRequest

from records.admin.columns import link
from records.admin.forms import LabelledChoices, RecordForm
from records.admin.links import Choices


def linked(model: type[Model], name: str, label: str, help_text: str = "") -> LabelledChoices:
    """A form's field for a many-to-many link whose rows hold more than the link."""
    field: Any = model._meta.get_field(name)
    return LabelledChoices(
        queryset=field.remote_field.model._default_manager.none(),
        required=False,
        label=label,
        widget=AutocompleteSelectMultiple(field, admin.site),
        help_text=help_text,
    )


class LinkedForm(RecordForm):
    """A record with its links, which Django's admin cannot edit by itself.

    `links` names the model's link for each field of the page that stands for one; `visible`, set
    for each request, what such a field offers.
    """

    links: ClassVar[dict[str, str]] = {}
    visible: ClassVar[dict[str, QuerySet[Any]]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, link_name in self.links.items():
            if name in self.fields:
                field: Any = self.fields[name]
                field.queryset = self.visible[name]
                field.initial = getattr(self.instance, link_name).all()

    def linked_rows(self) -> dict[str, list[Any]]:
        """What saving is given: the chosen records, and linked ones that the person cannot see."""
        return {
            link_name: [*self.cleaned_data[name], *self._unseen(name, link_name)]
            for name, link_name in self.links.items()
            if name in self.cleaned_data
        }

    def _unseen(self, name: str, link_name: str) -> list[Any]:
        if self.instance._state.adding:
            return []
        seen = self.visible[name].values("pk")
        return list(getattr(self.instance, link_name).exclude(pk__in=seen))


class LineForm(forms.ModelForm):
    """A line by itself; how it stands to the others is for saving to say."""

    def validate_constraints(self) -> None:
        line = self.instance
        for rule in line._meta.constraints:
            if isinstance(rule, CheckConstraint):
                self._check(rule, line)

    def _check(self, rule: CheckConstraint, line: Model) -> None:
        try:
            rule.validate(type(line), line, exclude=set(self.errors))
        except ValidationError as error:
            self.add_error(None, error)


class Lines(forms.BaseInlineFormSet):
    """The lines of one record, as `saving` is given them under the name `given`."""

    given: ClassVar[str] = ""
    refusal: ClassVar[ValidationError | None] = None

    def clean(self) -> None:
        super().clean()
        told: dict[str, Any] = self.refusal.update_error_dict({}) if self.refusal else {}
        if self.given in told:
            raise ValidationError(told[self.given])

    def rows(self) -> list[dict[str, Any]]:
        """All lines once the page is saved: those on the page, and those it does not show."""
        shown = [form.cleaned_data for form in self.forms if self._is_kept(form)]
        names = self._names()
        unseen = [{name: getattr(line, name) for name in names} for line in self._unseen()]
        return [{name: row[name] for name in names} for row in shown] + unseen

    def _names(self) -> list[str]:
        return [name for name in self.form.base_fields if name != self.fk.name]

    def _is_kept(self, form: Any) -> bool:
        is_there = form in self.initial_forms or form.has_changed()
        return is_there and not form.cleaned_data.get("DELETE")

    def _unseen(self) -> list[Any]:
        if self.instance._state.adding:
            return []
        model: Any = self.model
        stored = model._default_manager.filter(**{self.fk.name: self.instance})
        return list(stored.exclude(pk__in=[line.pk for line in self.get_queryset()]))


class OnItsPage(Choices, admin.TabularInline):
    """Rows on the page of what they belong to: seen with it, and changed by whoever changes it."""

    extra = 0

    def _may(self, request: HttpRequest, obj: Any) -> bool:
        parent: Any = self.admin_site.get_model_admin(self.parent_model)
        if obj is None:
            return bool(parent.has_add_permission(request))
        return bool(parent.has_change_permission(request, obj))

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, obj)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, obj)


class LinesInline(OnItsPage):
    """Lines of a record, on its page, for whoever sees or changes the record."""

    form: Any = LineForm
    formset: Any = Lines
    fields: ClassVar[Any] = ()
    derived: ClassVar[tuple[Any, ...]] = ()
    select_related: ClassVar[tuple[str, ...]] = ()
    # The name under which saving takes the lines.
    given: ClassVar[str] = ""

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows: QuerySet[Any] = self.model._default_manager.select_related(*self.select_related)
        return rows.order_by("pk")

    def get_formset(self, request: Any, obj: Any = None, **kwargs: Any) -> Any:
        formset: Any = super().get_formset(request, obj, **kwargs)
        formset.given = self.given
        formset.refusal = getattr(request, "refusal", None)
        return formset

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        if self._may(request, obj):
            return [*self.fields, *(self.derived if obj else ())]
        return [*map(self._read_only, self.fields), *self.derived]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        fields = self.get_fields(request, obj)
        return [f for f in fields if f not in self.fields or not self._may(request, obj)]

    def _read_only(self, name: str) -> Any:
        is_link = isinstance(self.model._meta.get_field(name), ForeignKey)
        return link(name) if is_link else name
