"""Farms: a place has both coordinates, or none."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from records.models import Farm
from tests.cast import Cast, client_of

LONE = pytest.mark.parametrize("lone", [{"latitude": "32.7"}, {"longitude": "-17.0"}])


@LONE
def test_a_lone_coordinate_is_refused_over_the_api(lone: dict[str, str], cast: Cast) -> None:
    answer = client_of(cast.ours.owner).patch(f"/api/v1/farms/{cast.ours.farm.pk}", lone)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["pointer"] == "/latitude"
    assert error["detail"] == "Give both latitude and longitude, or neither."


@LONE
def test_a_lone_coordinate_is_refused_by_the_database(lone: dict[str, str], cast: Cast) -> None:
    values = {name: Decimal(value) for name, value in lone.items()}
    with pytest.raises(IntegrityError, match="farm_coordinates_in_range"), transaction.atomic():
        Farm.objects.filter(pk=cast.ours.farm.pk).update(**values)


def test_both_coordinates_are_taken(cast: Cast) -> None:
    address = f"/api/v1/farms/{cast.ours.farm.pk}"
    answer = client_of(cast.ours.owner).patch(address, {"latitude": "32.7", "longitude": "-17.0"})
    assert (answer.status_code, answer.json()["warnings"]) == (200, [])
