"""Filters that planning's lists share."""

import re
from typing import Any

import django_filters
from django.db.models import QuerySet

from orchard.rest.filters import DateFilter, VisibleFilter
from orchard.rest.pagination import bad_parameter
from records.models import Block, Farm

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
