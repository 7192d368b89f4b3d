import datetime as dt
from typing import Any

import pytest

from tests.cast import Cast, make_cast


@pytest.fixture(autouse=True)
def after_the_harvest(settings: Any) -> None:
    """The records and the members' files here tell of 2026, up to its harvest."""
    settings.AS_OF = dt.date(2026, 10, 31)


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()
