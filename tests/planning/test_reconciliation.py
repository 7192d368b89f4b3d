"""`co-ops/{id}/reconciliation`: what belongs together, and what is missing on either side."""

import csv
import datetime as dt
import io
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.queries.reconciliation import Period, matches
from records.models import CoOp, Delivery, DeliveryWeight, HarvestWeight, Intake, Membership
from tests.cast import Cast, client_of, client_with, make_cast
from tests.planning.ground import make_farm, receive, weigh

pytestmark = pytest.mark.django_db
ALL = Period()


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def deliver(
    cast: Cast, day: str, *weights: HarvestWeight, docket: str = "", **extra: Any
) -> Delivery:
    delivery = Delivery.objects.create(
        farm=cast.ours.farm, delivered_on=day, docket=docket, **extra
    )
    for weight in weights:
        DeliveryWeight.objects.create(farm=cast.ours.farm, delivery=delivery, weight=weight)
    return delivery


def take(cast: Cast, day: str, kg: float, **extra: Any) -> Intake:
    return receive(cast.ours.farm, day, kg, **{"co_op": cast.co_op, **extra})


def told(cast: Cast, period: Period = ALL) -> list[tuple[Any, ...]]:
    """How, docket, kilos sent and received, of each match."""
    return [
        (match.how, match.docket, kg(match.sides.sent_g), kg(match.sides.received_g))
        for match in matches(cast.co_op, period, limit=100)
    ]


def kg(grams: int | None) -> float | None:
    return None if grams is None else grams / 1000


# What belongs together ---------------------------------------------------------------------------


def test_many_weighings_of_a_delivery_meet_many_intakes_of_it(cast: Cast) -> None:
    picked = [weigh(cast.ours.block, "2026-09-10", 30), weigh(cast.ours.block, "2026-09-11", 20)]
    delivery = deliver(cast, "2026-09-11", *picked, docket="D1")
    take(cast, "2026-09-12", 24, delivery=delivery)
    take(cast, "2026-09-13", 25.5, delivery=delivery, docket="S9")
    [match] = matches(cast.co_op, ALL, limit=100)
    assert told(cast) == [("link", "S9", 50.0, 49.5)]
    assert (match.weighings, len(match.intake_ids), match.delivery_ids) == (2, 2, [delivery.pk])
    assert (match.picked_from, match.received_to) == (dt.date(2026, 9, 10), dt.date(2026, 9, 13))
    middle_of_intakes = (24 * 12 + 25.5 * 13) / 49.5
    assert match.sides.days == pytest.approx(middle_of_intakes - (30 * 10 + 20 * 11) / 50)


def test_two_deliveries_under_one_docket_meet_one_intake(cast: Cast) -> None:
    for day in ("2026-09-10", "2026-09-11"):
        deliver(cast, day, weigh(cast.ours.block, day, 20), docket="D1")
    take(cast, "2026-09-12", 39, docket="D1")
    assert told(cast) == [("docket", "D1", 40.0, 39.0)]


def test_weighings_under_a_docket_stand_for_a_delivery(cast: Cast) -> None:
    """Whether a delivery of that docket is recorded or not."""
    weigh(cast.ours.block, "2026-09-10", 20, docket="D1")
    weigh(cast.ours.block, "2026-09-10", 15, docket="D2")
    deliver(cast, "2026-09-11", docket="D2")
    take(cast, "2026-09-12", 19.5, docket="D1")
    take(cast, "2026-09-12", 14.8, docket="D2")
    assert told(cast) == [("docket", "D1", 20.0, 19.5), ("docket", "D2", 15.0, 14.8)]


def test_a_docket_used_anew_is_another(cast: Cast) -> None:
    for month in (8, 9):
        weigh(cast.ours.block, f"2026-{month:02}-10", month, docket="1")
        take(cast, f"2026-{month:02}-12", month, docket="1")
    assert told(cast) == [("docket", "1", 8.0, 8.0), ("docket", "1", 9.0, 9.0)]


def test_intakes_under_a_docket_of_their_own_go_by_their_day(cast: Cast) -> None:
    """Each has what was picked since the one before, at most a week back."""
    for day, weight in (("01", 1), ("08", 8), ("11", 11), ("15", 15), ("18", 18)):
        weigh(cast.ours.block, f"2026-09-{day}", weight)
    take(cast, "2026-09-11", 18, docket="S1")
    take(cast, "2026-09-18", 30, docket="S2")
    take(cast, "2026-09-18", 3, docket="S3")
    assert told(cast) == [("date", "S1", 19.0, 18.0), ("date", "S2, S3", 33.0, 33.0)]


def test_what_is_missing_on_either_side_is_told(cast: Cast) -> None:
    weigh(cast.ours.block, "2026-09-10", 20, docket="D1")
    deliver(cast, "2026-09-11", weigh(cast.ours.block, "2026-09-10", 7))
    take(cast, "2026-09-20", 9, docket="S1")
    weigh(cast.ours.block, "2026-09-01", 50)  # on no docket, delivered nowhere: not sent
    assert told(cast) == [
        ("docket", "D1", 20.0, None),
        ("link", "", 7.0, None),
        ("date", "S1", None, 9.0),
    ]


def test_a_delivery_of_which_nothing_was_weighed_has_unknown_kilos(cast: Cast) -> None:
    delivery = deliver(cast, "2026-09-11")
    take(cast, "2026-09-12", 9, delivery=delivery)
    counted = weigh(cast.ours.block, "2026-09-10", fruit_count=60)
    other = deliver(cast, "2026-09-11", counted, weigh(cast.ours.block, "2026-09-10", 5))
    take(cast, "2026-09-13", 20, delivery=other)
    unweighed = [match.sides.unweighed for match in matches(cast.co_op, ALL, limit=100)]
    assert unweighed == [1, 1]


# Whose, and when ---------------------------------------------------------------------------------


def test_only_days_of_membership_and_the_co_ops_own_intakes_count(cast: Cast) -> None:
    weigh(cast.ours.block, "2019-12-30", 20, docket="D0")
    take(cast, "2019-12-31", 20, docket="D0")
    other = CoOp.objects.create(code="OTHER", name="Another co-op")
    take(cast, "2026-09-12", 30, docket="D9", co_op=other)
    take(cast, "2026-09-12", 10, docket="D8", co_op=None)  # the member's own shed
    receive(cast.neighbour.farm, "2026-09-12", 60)
    assert told(cast) == [("date", "D8", None, 10.0)]


def test_matches_are_dated_by_their_intake(cast: Cast) -> None:
    weigh(cast.ours.block, "2026-09-10", 20, docket="D1")
    take(cast, "2026-09-12", 20, docket="D1")
    day = dt.date(2026, 9, 12)
    assert len(told(cast, Period(first_on=day, last_on=day))) == 1
    assert told(cast, Period(last_on=day - dt.timedelta(days=1))) == []


def test_a_season_is_each_farms_own(cast: Cast) -> None:
    south = make_farm("SOUTH", season_start_month=7)
    Membership.objects.create(co_op=cast.co_op, farm=south, starts_on="2020-01-01")
    receive(south, "2026-03-01", 5, co_op=cast.co_op)  # of 2025/26
    receive(south, "2027-03-01", 6, co_op=cast.co_op)  # of 2026/27
    take(cast, "2026-03-01", 7)
    found = matches(cast.co_op, Period(year=2026), limit=100)
    assert {kg(match.sides.received_g) for match in found} == {6.0, 7.0}
    only = matches(cast.co_op, Period(year=2026), south, limit=100)
    assert {match.farm_id for match in only} == {south.pk}


def test_all_is_read_in_one_query_besides_members_and_seasons(cast: Cast) -> None:
    counts = []
    for number in range(1, 12, 10):
        for each in range(number):
            weigh(cast.ours.block, "2026-09-10", 20, docket=f"D{number} {each}")
            take(cast, "2026-09-12", 20, docket=f"D{number} {each}")
        with CaptureQueriesContext(connection) as seen:
            matches(cast.co_op, Period(year=2026), limit=100)
        counts.append(sum("FROM" in query["sql"] for query in seen))
    assert counts == [3, 3]


# The resource ------------------------------------------------------------------------------------


def path(cast: Cast) -> str:
    return f"/api/v1/co-ops/{cast.co_op.pk}/reconciliation"


@pytest.fixture
def some(cast: Cast) -> Cast:
    """One that matches, one that differs, one that was not received."""
    for docket, sent, received in (("D1", 100, 98), ("D2", 100, 90), ("D3", 50, None)):
        weigh(cast.ours.block, "2026-09-10", sent, docket=docket)
        if received:
            take(cast, "2026-09-12", received, docket=docket)
    return cast


def answer(cast: Cast, **query: Any) -> dict[str, Any]:
    found = client_of(cast.staff).get(path(cast), query)
    assert found.status_code == 200, found.content
    document: dict[str, Any] = found.json()
    return document


def test_matches_have_a_state_and_differences(some: Cast) -> None:
    told = answer(some)
    assert told["states"] == {
        "matched": 1,
        "differs": 1,
        "not-received": 1,
        "not-sent": 0,
        "not-weighed": 0,
    }
    by_docket = {row["docket"]: row for row in told["results"]}
    assert by_docket["D1"]["state"] == "matched"
    assert by_docket["D2"]["difference_kg"] == -10.0
    assert by_docket["D2"]["difference_percent"] == -10.0
    assert by_docket["D3"]["received_kg"] is None
    assert by_docket["D3"]["days_between"] is None
    assert (told["tolerance_percent"], by_docket["D1"]["days_between"]) == (3, 2)


def test_shrink_is_of_matches_within_the_tolerance(some: Cast) -> None:
    [two_days] = answer(some)["shrink"]
    assert (two_days["days"], two_days["matches"], two_days["g_per_kg_and_day"]) == (2, 1, 10)
    [wider] = answer(some, tolerance=10)["shrink"]
    assert (wider["matches"], wider["g_per_kg_and_day"]) == (2, 30)


def test_matches_are_filtered_by_state_member_and_days(some: Cast) -> None:
    listed = answer(some, state=["differs", "not-received"])["results"]
    assert [row["docket"] for row in listed] == ["D3", "D2"]
    assert len(answer(some, member=some.ours.farm.pk, season="2026")["results"]) == 3
    assert answer(some, **{"from": "2026-09-13"})["results"] == []


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ({"tolerance": "-1"}, "tolerance"),
        ({"tolerance": "half"}, "tolerance"),
        ({"state": "lost"}, "state"),
        ({"season": "last"}, "season"),
        ({"from": "2026-09-13", "to": "2026-09-12"}, "to"),
    ],
)
def test_a_wrong_parameter_is_named(query: dict[str, str], parameter: str, some: Cast) -> None:
    refused = client_of(some.staff).get(path(some), query)
    assert refused.status_code in {400, 422}
    assert [error["parameter"] for error in refused.json()["errors"]] == [parameter]


def test_it_is_had_as_a_table(some: Cast) -> None:
    table = client_of(some.staff).get(path(some), {"format": "csv"})
    lines = list(csv.DictReader(io.StringIO(table.content.decode("utf-8-sig"))))
    assert {line["docket"] for line in lines} == {"D1", "D2", "D3"}
    workbook = client_of(some.staff).get(path(some), {"format": "xlsx"})
    assert workbook.content[:2] == b"PK"


def test_it_is_the_co_ops_own(some: Cast) -> None:
    assert client_with(some.co_op, "harvest:read").get(path(some)).status_code == 200
    assert client_of(some.admin).get(path(some)).status_code == 200
    for stranger in (some.ours.owner, some.neighbour.owner):
        assert client_of(stranger).get(path(some)).status_code == 404
