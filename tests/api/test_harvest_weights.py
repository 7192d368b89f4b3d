"""Weighings over the API."""

import pytest

from tests.cast import Cast, client_of, make_cast, weighing

pytestmark = pytest.mark.django_db
PATH = "/api/v1/harvest-weights"


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def test_a_weighing_comes_back_as_entered_and_in_kilograms(cast: Cast) -> None:
    body = weighing(cast.ours, weight=10, unit="lb", trees=[str(cast.ours.tree.pk)])
    answer = client_of(cast.ours.owner).post(PATH, body)
    assert answer.status_code == 201, answer.json()
    stored = answer.json()
    assert (stored["weight"], stored["unit"], stored["net_kg"]) == (10, "lb", 4.536)
    assert stored["cultivar"] == str(cast.ours.tree.cultivar_id)
    assert stored["crop"] == str(cast.ours.crop.pk)
    assert answer["ETag"] == '"1"'


def test_containers_take_their_tare_off(cast: Cast) -> None:
    body = weighing(cast.ours, weight=30, containers=2, container=str(cast.ours.container.pk))
    assert client_of(cast.ours.owner).post(PATH, body).json()["net_kg"] == 27
