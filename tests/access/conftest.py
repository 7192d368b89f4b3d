import datetime as dt
from typing import Any

import pytest

from tests.cast import Cast, make_cast


@pytest.fixture(autouse=True)
def _two_days_after_the_picking(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 9, 12)


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()
