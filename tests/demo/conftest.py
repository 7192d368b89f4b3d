from datetime import date

import pytest

from orchard.demo.cast import Cast
from orchard.demo.cast_files import read_cast
from orchard.demo.harvest import Weighing, weighings

AS_OF = date(2026, 11, 20)


@pytest.fixture(scope="session")
def cast() -> Cast:
    return read_cast(AS_OF)


@pytest.fixture(scope="session")
def picked(cast: Cast) -> list[Weighing]:
    return weighings(cast)
