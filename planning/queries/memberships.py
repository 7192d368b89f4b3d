"""What of its members a co-op sees: the days of membership, and what was shared on them."""

import datetime as dt
from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from records.choices import Shares
from records.models import Membership


def in_membership(
    rows: QuerySet[Any], co_op_id: UUID | None, day: str, *, shares_all: bool = False
) -> QuerySet[Any]:
    """Rows dated within a farm's membership of the co-op; all of them where there is none.

    `day` is the field that dates a row. With `shares_all`, a membership counts only if the farm
    shares all it records.
    """
    if co_op_id is None:
        return rows
    then = Membership.objects.filter(
        Q(ends_on__isnull=True) | Q(ends_on__gte=OuterRef(day)),
        co_op_id=co_op_id,
        farm_id=OuterRef("farm_id"),
        starts_on__lte=OuterRef(day),
    )
    return rows.filter(Exists(then.filter(shares=Shares.ALL) if shares_all else then))


class OpenBooks:
    """When farms shared all they record with a co-op; a farm's own view has no limits."""

    def __init__(self, farm_ids: Collection[UUID], co_op_id: UUID | None) -> None:
        self.is_own = co_op_id is None
        self.spans: list[tuple[UUID, dt.date, dt.date]] = []
        if co_op_id is not None:
            memberships = Membership.objects.filter(
                co_op_id=co_op_id, farm_id__in=farm_ids, shares=Shares.ALL
            )
            self.spans = [
                (member.farm_id, member.starts_on, member.ends_on or dt.date.max)
                for member in memberships
            ]

    def on(self, farm_id: UUID, day: dt.date) -> bool:
        return self.during(farm_id, day, day)

    def during(self, farm_id: UUID, first: dt.date, last: dt.date) -> bool:
        """Whether they were open on any day of a span."""
        return self.is_own or any(
            farm == farm_id and starts_on <= last and first <= ends_on
            for farm, starts_on, ends_on in self.spans
        )
