"""List filters: unknown parameters are refused, and what may not be seen does not exist."""

import uuid
from collections.abc import Callable, Iterable
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.request import Request

from orchard.rest.pagination import PAGE_PARAMETERS, bad_parameter
from orchard.rest.problems import Problem


class FilterBackend(DjangoFilterBackend):
    def filter_queryset(
        self, request: Request, queryset: QuerySet[Any], view: Any
    ) -> QuerySet[Any]:
        found: Any = self.get_filterset_class(view, queryset)
        known = found.base_filters if found else {}
        refuse_unknown(request, known)
        # Each filter costs more to set up than many a list to read: only those asked for are.
        asked = [
            name
            for name, each in known.items()
            if name in request.query_params or each.extra["required"]
        ]
        if not asked:
            return queryset
        filterset: Any = self.get_filterset(request, queryset, view)
        filterset.filters = {name: filterset.filters[name] for name in asked}
        check(filterset)
        filtered: QuerySet[Any] = filterset.qs
        return filtered


def refuse_unknown(
    request: Request, known: Iterable[str], others: Iterable[str] = PAGE_PARAMETERS
) -> None:
    for name in request.query_params:
        if name not in {*known, *others}:
            raise bad_parameter(name, "is not a filter of this list.", code="unknown-parameter")


def check(filterset: django_filters.FilterSet) -> dict[str, Any]:
    """The parameters' values; a Problem naming each that is wrong."""
    if not filterset.is_valid():
        raise _refusal(filterset.errors.as_data())
    values: dict[str, Any] = filterset.form.cleaned_data
    return values


def _refusal(faults: dict[str, list[ValidationError]]) -> Problem:
    errors = [
        {"parameter": name, "code": (fault.code or "invalid").replace("_", "-"), "detail": text}
        for name, found in faults.items()
        for fault in found
        for text in fault.messages
    ]
    unseen = all(error["code"] == "does-not-exist" for error in errors)
    first = errors[0]
    return Problem(
        "rule-broken" if unseen else "invalid-request",
        f"{first['parameter']}: {first['detail']}",
        errors=errors,
    )


class DateFilter(django_filters.DateFilter):
    """A day as ISO 8601 writes it; 03/04 could be two days."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)


class FlagField(forms.TypedChoiceField):
    def __init__(self, **kwargs: Any) -> None:
        words = {"true": True, "false": False}
        choices = [(word, word) for word in words]
        super().__init__(choices=choices, coerce=words.__getitem__, empty_value=None, **kwargs)


class FlagFilter(django_filters.BooleanFilter):
    """`true` or `false`; another word is refused, not taken for neither."""

    field_class = FlagField


class NumberFilter(django_filters.NumberFilter):
    """A whole number within bounds."""

    field_class = forms.IntegerField

    def __init__(self, *, min_value: int, max_value: int, **kwargs: Any) -> None:
        super().__init__(min_value=min_value, max_value=max_value, **kwargs)


class VisibleField(forms.ModelChoiceField):
    """One record by id. One that the caller may not see is one that does not exist."""

    def to_python(self, value: Any) -> Model | None:
        if value in self.empty_values:
            return None
        try:
            key = uuid.UUID(value)
        except ValueError:
            raise ValidationError("This is no UUID.", code="invalid") from None
        rows: Any = self.queryset
        found: Model | None = rows.filter(pk=key).first()
        if found is None:
            raise ValidationError("There is no such record.", code="does_not_exist")
        return found


class VisibleFilter(django_filters.ModelChoiceFilter):
    """Rows that belong to one record, given by id: `?farm=...`."""

    field_class = VisibleField

    def __init__(self, model: type[Model], **kwargs: Any) -> None:
        super().__init__(queryset=_visible(model), **kwargs)


def _visible(model: type[Model]) -> Callable[[Request], QuerySet[Any]]:
    def of_caller(request: Request | None) -> QuerySet[Any]:
        if request is None:  # the schema generator asks without one
            return model._default_manager.none()
        rows: QuerySet[Any] = model._default_manager.all().visible_to(request.auth)  # type: ignore[attr-defined]
        return rows

    return of_caller
