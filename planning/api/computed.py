"""What resources that are computed when they are asked for have in common."""

import uuid
from collections.abc import Sequence
from functools import partial
from typing import Any, ClassVar

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.callers import caller_of
from orchard.rest.filters import VisibleFilter, check, refuse_unknown
from orchard.rest.problems import Problem
from orchard.rest.viewsets import RecordsView
from records.models import Block, Farm, Species


@extend_schema_field(OpenApiTypes.UUID)
class ReadableFarmFilter(django_filters.ModelChoiceFilter):
    """One farm of which the caller reads an area; another does not exist for them."""

    field_class = VisibleFilter.field_class

    def __init__(self, area: Area = Area.SCHEDULE, **kwargs: Any) -> None:
        super().__init__(queryset=partial(_readable_farms, area), **kwargs)


def _readable_farms(area: Area, request: Request | None) -> QuerySet[Any]:
    if request is None:  # the schema generator asks without one
        return Farm.objects.none()
    return Farm.objects.where_caller_may("reads", area, caller_of(request))


@extend_schema_field(OpenApiTypes.UUID)
class RecordFilter(VisibleFilter):
    """One record by id, where no model tells the schema what a filter takes."""


class BlockFilter(RecordFilter):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Block, **kwargs)


@extend_schema_field(OpenApiTypes.UUID)
class ReadableBlockFilter(django_filters.ModelChoiceFilter):
    """One block of a farm of which the caller reads an area."""

    field_class = VisibleFilter.field_class

    def __init__(self, area: Area, **kwargs: Any) -> None:
        super().__init__(queryset=partial(_readable_blocks, area), **kwargs)


def _readable_blocks(area: Area, request: Request | None) -> QuerySet[Any]:
    farms = _readable_farms(area, request)
    return Block.objects.filter(farm__in=farms.values("pk")).select_related("farm")


class SpeciesField(forms.CharField):
    """A species by its id or its code."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        by = {"pk": text} if _is_uuid(text) else {"code": text}
        found = Species.objects.filter(**by).first()
        if found is None:
            raise ValidationError("There is no such species.", code="does_not_exist")
        return found


class SpeciesFilter(django_filters.CharFilter):
    field_class = SpeciesField

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="A species, by id or code: sugar-apple.", **kwargs)


class WholeAnswer(BasePagination):
    """A list's `results`, all at once."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {"type": "object", "required": ["results"], "properties": {"results": schema}}

    def get_schema_operation_parameters(self, view: Any) -> list[Any]:
        return []


class ComputedViewSet(RecordsView):
    """Answers computed when they are asked for: nothing of them is stored, nor paged.

    A subclass names its parameters as a filterset and the serializer of a row, and gives `rows`.
    """

    area: ClassVar[Area | None] = Area.SCHEDULE
    queryset = Farm.objects.all()
    pagination_class = WholeAnswer
    tabular = True

    def rows(self, asked: dict[str, Any]) -> Sequence[Any]:
        raise NotImplementedError

    def list(self, request: Request, **kwargs: Any) -> Response:
        rows = self.get_serializer(self.rows(self.asked(request)), many=True).data
        is_table = request.accepted_renderer.format != "json"
        return Response(rows if is_table else {"results": rows})

    def asked(self, request: Request) -> dict[str, Any]:
        """The values of the parameters; a Problem names what is wrong with them."""
        filterset: Any = self.filterset_class(  # type: ignore[attr-defined]
            request.query_params, queryset=Farm.objects.none(), request=request
        )
        refuse_unknown(request, filterset.filters, {"format"})
        return check(filterset)


def refused(parameter: str, text: str, code: str) -> Problem:
    """A rule that the parameters break together, blamed on one of them."""
    return Problem(
        "rule-broken",
        f"{parameter}: {text}",
        errors=[{"parameter": parameter, "code": code, "detail": text}],
    )


def _is_uuid(text: str) -> bool:
    try:
        uuid.UUID(text)
    except ValueError:
        return False
    return True
