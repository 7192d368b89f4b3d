"""Filters that planning's lists share."""

import re
from collections.abc import Sequence
from typing import Any
from uuid import UUID

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from orchard.rest.filters import DateFilter, VisibleFilter
from orchard.rest.pagination import bad_parameter
from orchard.rest.problems import Problem
from records.models import Block, Farm

FIRST_YEAR, LAST_YEAR = 1900, 2200
LABEL = re.compile(r"(\d{4})(/\d\d)?")


class SeasonFilter(django_filters.CharFilter):
    """A season by the year it starts in, or by its label: 2026, or 2026/27."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="2026 or 2026/27.", **kwargs)

    def filter(self, qs: QuerySet[Any], value: str) -> QuerySet[Any]:
        if not value:
            return qs
        found = LABEL.fullmatch(value)
        if found is None:
            raise bad_parameter("season", "must be like 2026 or 2026/27.")
        rows = qs.filter(season_year=int(found[1]))
        return rows.filter(season_label=value) if found[2] else rows


class AssignedFilter(django_filters.UUIDFilter):
    """Rows of which a person is to do the work, by the person's id."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(field_name="assigned_to", label="A person's id.", **kwargs)

    def filter(self, qs: QuerySet[Any], value: Any) -> QuerySet[Any]:
        return qs.filter(assigned_to__contains=[value]) if value else qs


class ScheduleFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)
    block = VisibleFilter(Block)


def after(name: str) -> DateFilter:
    """On this day or later."""
    return DateFilter(field_name=name, lookup_expr="gte")


def before(name: str) -> DateFilter:
    """On this day or earlier."""
    return DateFilter(field_name=name, lookup_expr="lte")


class SeasonYearField(forms.CharField):
    """The year in which a season starts, from 2026 or 2026/27."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        found = LABEL.fullmatch(text)
        if found is None or not FIRST_YEAR <= int(found[1]) <= LAST_YEAR:
            raise ValidationError("A season is like 2026 or 2026/27.", code="invalid")
        return int(found[1])


class SeasonYearFilter(django_filters.CharFilter):
    """A season of what is computed, as the year it starts in; the label says what none means."""

    field_class = SeasonYearField

    def __init__(self, label: str = "2026 or 2026/27; empty: this season.", **kwargs: Any) -> None:
        super().__init__(label=label, **kwargs)


class BlocksField(forms.CharField):
    """Ids with commas between them."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return [UUID(each.strip()) for each in text.split(",")] if text else None
        except ValueError:
            raise ValidationError("Give ids with commas between them.", code="invalid") from None


class BlocksFilter(django_filters.CharFilter):
    field_class = BlocksField

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="Blocks' ids with commas between them; empty: all.", **kwargs)


def blocks_of(farm: Farm, ids: Sequence[UUID] | None) -> set[UUID] | None:
    """The blocks asked for; one that is not the farm's does not exist."""
    if ids is None:
        return None
    known = set(Block.objects.filter(farm=farm, pk__in=ids).values_list("pk", flat=True))
    if known != set(ids):
        text = "There is no such block on this farm."
        error = {"parameter": "blocks", "code": "does-not-exist", "detail": text}
        raise Problem("rule-broken", f"blocks: {text}", errors=[error])
    return known
