"""Field workers add weighings some days back, correct their own for as long, and see no others."""

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from records.models import FarmRole, HarvestWeight
from records.services import saving
from tests.cast import Cast, client_of, weighing

PATH = "/api/v1/harvest-weights"
TODAY = dt.date(2026, 9, 12)


def add(cast: Cast, days_back: int, by: str = "worker") -> Any:
    body = weighing(cast.ours, picked_on=str(TODAY - dt.timedelta(days=days_back)))
    return client_of(getattr(cast, by)).post(PATH, body)


def stored(cast: Cast, days_back: int, by: str = "worker") -> HarvestWeight:
    """A weighing that has been there since its day."""
    weight = HarvestWeight(
        farm=cast.ours.farm,
        block=cast.ours.block,
        picked_on=TODAY - dt.timedelta(days=days_back),
        fruit_count=10,
        created_by=getattr(cast, by),
    )
    return saving.save(weight)


def refused_as_too_old(answer: Any) -> bool:
    return answer.status_code == 422 and answer.json()["errors"][0]["code"] == "too-far-back"


@pytest.mark.parametrize(
    ("days_allowed", "days_back", "is_allowed"),
    [
        (14, 0, True),
        (14, 14, True),  # the last day
        (14, 15, False),
        (14, 400, False),
        (3, 3, True),  # the farm's own setting
        (3, 4, False),
        (0, 0, True),  # only today's
        (0, 1, False),
    ],
)
def test_weighings_are_added_some_days_back(
    days_allowed: int, days_back: int, is_allowed: bool, cast: Cast
) -> None:
    cast.ours.farm.backdate_days = days_allowed
    cast.ours.farm.save()
    answer = add(cast, days_back)
    assert answer.status_code == (201 if is_allowed else 422)
    assert refused_as_too_old(answer) is not is_allowed
    assert HarvestWeight.objects.exists() is is_allowed


def test_others_add_weighings_of_any_age(cast: Cast) -> None:
    assert add(cast, 4000, by="manager").status_code == 201


@pytest.mark.parametrize(
    ("time_zone", "first", "last"),
    [
        # At half past midnight UTC on the 12th it is still the 11th on Cape Verde ...
        ("Atlantic/Cape_Verde", dt.date(2026, 9, 10), dt.date(2026, 9, 11)),
        # ... and mid-morning of the 12th in Brisbane.
        ("Australia/Brisbane", dt.date(2026, 9, 11), dt.date(2026, 9, 12)),
    ],
)
def test_days_are_those_of_the_farms_own_calendar(
    time_zone: str, first: dt.date, last: dt.date, cast: Cast, settings: Any, monkeypatch: Any
) -> None:
    settings.AS_OF = None
    now = dt.datetime(2026, 9, 12, 0, 30, tzinfo=dt.UTC)
    client = client_of(cast.worker)
    cast.ours.farm.time_zone, cast.ours.farm.backdate_days = time_zone, 1
    cast.ours.farm.save()
    monkeypatch.setattr(timezone, "now", lambda: now)
    days = [first - dt.timedelta(days=1), first, last, last + dt.timedelta(days=1)]
    answers = [client.post(PATH, weighing(cast.ours, picked_on=str(day))) for day in days]
    assert [answer.status_code for answer in answers] == [422, 201, 201, 422]
    codes = [answers[i].json()["errors"][0]["code"] for i in (0, 3)]
    assert codes == ["too-far-back", "in-the-future"]


def test_own_weighings_are_corrected_and_deleted_for_as_long(cast: Cast) -> None:
    client = client_of(cast.worker)
    young, old = stored(cast, 14), stored(cast, 15)
    assert client.patch(f"{PATH}/{young.pk}", {"fruit_count": 11}).status_code == 200
    assert refused_as_too_old(client.patch(f"{PATH}/{old.pk}", {"fruit_count": 11}))
    assert refused_as_too_old(client.delete(f"{PATH}/{old.pk}"))
    assert client.delete(f"{PATH}/{young.pk}").status_code == 204
    assert list(HarvestWeight.objects.values_list("pk", "fruit_count")) == [(old.pk, 10)]


@pytest.mark.parametrize(("is_at", "goes_to"), [(1, 15), (15, 1)])
def test_a_weighing_is_moved_neither_to_nor_from_an_old_day(
    is_at: int, goes_to: int, cast: Cast
) -> None:
    weight = stored(cast, is_at)
    day = str(TODAY - dt.timedelta(days=goes_to))
    answer = client_of(cast.worker).patch(f"{PATH}/{weight.pk}", {"picked_on": day})
    assert refused_as_too_old(answer)


def test_only_own_weighings_are_seen(cast: Cast) -> None:
    own, others = stored(cast, 1), stored(cast, 1, by="manager")
    client = client_of(cast.worker)
    assert [row["id"] for row in client.get(PATH).json()["results"]] == [str(own.pk)]
    for method in (client.get, client.delete):
        assert method(f"{PATH}/{others.pk}").status_code == 404
    assert client.patch(f"{PATH}/{others.pk}", {"fruit_count": 1}).status_code == 404


def test_own_weighings_are_gone_with_the_role(cast: Cast) -> None:
    own = stored(cast, 1)
    roles = FarmRole.objects.filter(person=cast.worker)
    client = client_of(cast.worker)
    roles.update(ends_on=TODAY)
    assert client.get(f"{PATH}/{own.pk}").status_code == 200  # the last day counts
    roles.update(ends_on=TODAY - dt.timedelta(days=1))
    assert client.get(f"{PATH}/{own.pk}").status_code == 403
    assert add(cast, 0).status_code == 403
