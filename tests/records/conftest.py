import datetime as dt
from typing import Any

import pytest


@pytest.fixture(autouse=True)
def after_the_harvest(settings: Any) -> None:
    """The members' files here tell of September 2026."""
    settings.AS_OF = dt.date(2026, 10, 31)
