"""Some seasons out of all: named by the years in which they start."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet


@dataclass(frozen=True, slots=True, kw_only=True)
class Years:
    """The years of some seasons; of all, where none are named (None)."""

    named: Collection[int] | None = None

    def __contains__(self, year: int) -> bool:
        return self.named is None or year in self.named

    @property
    def are_none(self) -> bool:
        return self.named is not None and not self.named

    def of(self, derived: QuerySet[Any]) -> QuerySet[Any]:
        """Derived rows of these seasons."""
        if self.named is None:
            return derived
        return derived.filter(season_year__in=list(self.named))

    def rows(self, rows: QuerySet[Any], day: str) -> QuerySet[Any]:
        """Rows whose season can be one of these: it ends in the year after it starts at latest."""
        if self.named is None:
            return rows
        if self.are_none:
            return rows.none()
        first, last = dt.date(min(self.named), 1, 1), dt.date(max(self.named) + 1, 12, 31)
        return rows.filter(**{f"{day}__range": (first, last)})


ALL_YEARS = Years()
