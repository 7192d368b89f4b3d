import pytest

from tests.cast import Cast, make_cast


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()
