"""What is to be told of blocks and farms beside their tasks."""

import datetime as dt
from collections.abc import Iterator, Mapping
from uuid import UUID

from planning.compute.alerts import Fact
from planning.queries.plantings import Planted
from planning.queries.schedules import Plan


def facts_of(
    plan: Plan, planted: Mapping[UUID, Planted], today: dt.date
) -> Iterator[tuple[UUID, Fact]]:
    """Facts that hold, each with its farm."""
    yield from ()
