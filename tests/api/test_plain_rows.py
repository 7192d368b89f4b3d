"""Lists that are read as plain rows say what the serializer says, record by record."""

import datetime as dt
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.api.harvest import WEIGHINGS, HarvestWeightSerializer, HarvestWeightViewSet
from records.choices import MAX_WEIGHING_G
from records.models import HarvestWeight, HarvestWeightTree, Tree
from tests.cast import Cast, client_of, client_with

pytestmark = pytest.mark.django_db
PATH = "/api/v1/harvest-weights"

WEIGHINGS_OF = st.lists(
    st.fixed_dictionaries(
        {
            "picked_on": st.dates(dt.date(2026, 1, 1), dt.date(2026, 8, 1)),
            "net_g": st.none() | st.integers(0, MAX_WEIGHING_G),
            "estimated_from_containers_g": st.none() | st.integers(0, MAX_WEIGHING_G),
            "weight": st.none() | st.decimals("0.0001", "99999999.9999", places=4),
            "minutes": st.none() | st.integers(0, 600),
            "pickers": st.lists(st.sampled_from(["Ana", "Rui", "Zé"]), max_size=2),
            "note": st.sampled_from(["", "wet", "=1+1"]),
            "recorded_at": st.none()
            | st.datetimes(
                dt.datetime(2026, 1, 1), dt.datetime(2026, 9, 1), timezones=st.just(dt.UTC)
            ),
            "whole_seconds": st.booleans(),
            "trees": st.sets(st.integers(0, 2)),
        }
    ),
    max_size=6,
)


def add(place: Any, **values: Any) -> HarvestWeight:
    fields = {"fruit_count": 3, "picked_on": dt.date(2026, 2, 1), **values}
    return HarvestWeight.objects.create(farm=place.farm, block=place.block, **fields)


def store(place: Any, trees: list[Tree], drawn: list[dict[str, Any]]) -> None:
    for values in drawn:
        whole_seconds, picked = values.pop("whole_seconds"), values.pop("trees")
        if whole_seconds and values["recorded_at"]:
            values["recorded_at"] = values["recorded_at"].replace(microsecond=0)
        unit = "kg" if values["weight"] is not None else ""
        weight = add(place, **{**values, "unit": unit})
        for number in picked:
            HarvestWeightTree.objects.create(farm=place.farm, weight=weight, tree=trees[number])


@settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(drawn=WEIGHINGS_OF)
def test_a_page_says_what_the_serializer_says(cast: Cast, drawn: list[dict[str, Any]]) -> None:
    """As the owner sees it, with warnings; as co-op staff see it by a harvest share, without."""
    with transaction.atomic():
        store(cast.ours, trees_of(cast), drawn)
        for client in (client_of(cast.ours.owner), client_of(cast.staff)):
            plain = client.get(PATH).json()
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(HarvestWeightViewSet, "plain_rows", None)
                assert client.get(PATH).json() == plain
            assert len(plain["results"]) == len(drawn)
        transaction.set_rollback(True)


def trees_of(cast: Cast) -> list[Tree]:
    """One that stands, and two that were removed."""
    place = {"farm": cast.ours.farm, "block": cast.ours.block, "row": 90}
    gone = [None, dt.date(2026, 3, 1), dt.date(2026, 5, 1)]
    return [
        Tree.objects.create(**place, position=number, removed_on=day)
        for number, day in enumerate(gone, start=1)
    ]


def test_only_rows_with_more_to_say_are_made_records(cast: Cast) -> None:
    add(cast.ours)
    rows = WEIGHINGS.read(HarvestWeight.objects.visible_to(_owner(cast)).order_by("pk"))
    assert not any(row["needs_record"] for row in rows)
    assert set(rows[0]) == {*HarvestWeightSerializer.Meta.fields, "needs_record", "limited"} - {
        "warnings"
    }


def test_a_list_that_nothing_can_be_in_is_empty(cast: Cast) -> None:
    HarvestWeight.objects.all().delete()
    assert client_with(cast.ours.farm, "harvest:read").get(PATH).json()["results"] == []


def _owner(cast: Cast) -> Any:
    from orchard import clock
    from records.services.callers import caller_for_person

    return caller_for_person(cast.ours.owner, clock.today("UTC"))
