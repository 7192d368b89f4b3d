import datetime as dt
from typing import Any

import pytest

from records.models import CoOp, CoOpRole, Membership
from tests.cast import Cast, make_cast, make_person


@pytest.fixture(autouse=True)
def _after_the_picking(settings: Any) -> None:
    """The tests' weighings are no future ones, whatever the day."""
    settings.AS_OF = dt.date(2026, 12, 1)


@pytest.fixture
def cast(db: None) -> Cast:
    """The fixed cast; the neighbour is a member of another co-op, with staff of its own."""
    cast = make_cast()
    theirs = CoOp.objects.create(code="THEIRS", name="The other co-op")
    Membership.objects.create(
        co_op=theirs, farm=cast.neighbour.farm, starts_on=dt.date(2020, 1, 1), shares="all"
    )
    CoOpRole.objects.create(co_op=theirs, person=make_person("staff@other.example"))
    return cast
