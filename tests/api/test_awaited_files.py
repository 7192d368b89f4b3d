"""Which members have sent this week, and which have not."""

import csv
import datetime as dt
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from records.models import (
    Block,
    Farm,
    HarvestImport,
    HarvestWeight,
    Membership,
)
from records.services import saving
from records.services.awaited_files import Week, clock_of
from tests.api.resources import make_farm
from tests.cast import Cast, Place, client_of, client_with
from tests.records.sending import send

FILE = [["Date", "Block", "Kilos"], ["2026-09-10", "N1", "20"], ["2026-09-11", "N1", "21"]]
MONDAY = dt.datetime(2026, 9, 14, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def the_tuesday(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 9, 15)


@pytest.fixture
def staff(cast: Cast) -> APIClient:
    return client_of(cast.staff)


def awaited(client: APIClient, cast: Cast, **query: str) -> Any:
    answer = client.get(f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files", query)
    assert answer.status_code == 200, answer.json()
    return answer.json()


def only_member(client: APIClient, cast: Cast, **query: str) -> Any:
    (member,) = awaited(client, cast, **query)["results"]
    return member


def came_at(row: Any, at: dt.datetime) -> Any:
    """The database keeps the time at which a row came, unless it is told that it stamps rows."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('orchard.stamping', 'on', true)")
        type(row).objects.filter(pk=row.pk).update(created_at=at)
        cursor.execute("SELECT set_config('orchard.stamping', '', true)")
    return row


def sent_on(place: Place, at: dt.datetime, rows: Any = FILE, **options: Any) -> HarvestImport:
    sent: HarvestImport = came_at(send(place.farm, rows, **options), at)
    return sent


def enter(place: Place, at: dt.datetime, **values: Any) -> HarvestWeight:
    weight = HarvestWeight(
        farm=place.farm,
        block=place.block,
        **{"picked_on": dt.date(2026, 9, 12), "weight": 5, "unit": "kg", **values},
    )
    entered: HarvestWeight = came_at(saving.save(weight), at)
    return entered


# What is told ------------------------------------------------------------------------------------


def test_a_member_that_sent_nothing_is_told(staff: APIClient, cast: Cast) -> None:
    assert awaited(staff, cast) == {
        "week": "2026-W38",
        "starts_on": "2026-09-14",
        "ends_on": "2026-09-20",
        "unmatched_files": 0,
        "results": [
            {
                "farm_code": "OURS",
                "farm": str(cast.ours.farm.pk),
                "sent": "nothing",
                "files_landed": 0,
                "rows_landed": 0,
                "net_kg": 0,
                "rows_entered": 0,
                "entered_net_kg": 0,
                "files_not_in": [],
                "last_file_on": None,
                "last_picked_on": None,
            }
        ],
    }


def test_landed_files_are_told_with_rows_and_kilos(staff: APIClient, cast: Cast) -> None:
    sent_on(cast.ours, MONDAY)
    sent_on(cast.ours, MONDAY, [*FILE, ["2026-09-13", "N1", "2.5"]], series="later")
    member = only_member(staff, cast)
    assert (member["sent"], member["files_landed"], member["rows_landed"]) == ("landed", 2, 5)
    assert member["net_kg"] == 84.5
    assert (member["last_file_on"], member["last_picked_on"]) == ("2026-09-14", "2026-09-13")


@pytest.mark.parametrize(
    ("rows", "options", "state"),
    [
        ([*FILE, ["2026-09-12", "N9", "1"]], {}, "refused"),
        ([["Date", "Block", "Kilos"], ["03/04/2026", "N1", "2"]], {}, "question"),
        (FILE, {"dry_run": True}, "checked"),
    ],
)
def test_files_that_are_not_in_are_told_apart(
    rows: Any, options: Any, state: str, staff: APIClient, cast: Cast
) -> None:
    sent = sent_on(cast.ours, MONDAY, rows, **options)
    member = only_member(staff, cast)
    assert member["sent"] == "not-in"
    assert member["files_landed"] == member["net_kg"] == 0
    (told,) = member["files_not_in"]
    assert (told["harvest_import"], told["state"]) == (str(sent.pk), state)
    assert told["explanation"] == sent.explanation


def test_weighings_entered_without_a_file_count_as_sent(staff: APIClient, cast: Cast) -> None:
    enter(cast.ours, MONDAY)
    enter(cast.ours, MONDAY, weight=None, unit="", containers=2, container=cast.ours.container)
    member = only_member(staff, cast)
    assert (member["sent"], member["rows_entered"], member["entered_net_kg"]) == (
        "entered-directly",
        2,
        5,
    )


def test_what_was_undone_or_retired_was_not_sent(staff: APIClient, cast: Cast) -> None:
    sent_on(cast.ours, MONDAY)
    HarvestImport.objects.update(state="undone")
    enter(cast.ours, MONDAY, retired_on=dt.date(2026, 9, 14))
    assert only_member(staff, cast)["sent"] == "nothing"


# Weeks -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "week"),
    [
        # Madeira's summer time is an hour before UTC.
        (dt.datetime(2026, 9, 13, 22, 59, 59, tzinfo=dt.UTC), "2026-W37"),
        (dt.datetime(2026, 9, 13, 23, 0, tzinfo=dt.UTC), "2026-W38"),
        (dt.datetime(2026, 9, 20, 22, 59, 59, tzinfo=dt.UTC), "2026-W38"),
        (dt.datetime(2026, 9, 20, 23, 0, tzinfo=dt.UTC), "2026-W39"),
    ],
)
def test_a_week_runs_from_monday_to_sunday_of_the_farms_date(
    at: dt.datetime, week: str, staff: APIClient, cast: Cast
) -> None:
    sent_on(cast.ours, at)
    enter(cast.ours, at)
    found = {
        each: only_member(staff, cast, week=each) for each in ("2026-W37", "2026-W38", "2026-W39")
    }
    assert {w for w, member in found.items() if member["files_landed"]} == {week}
    assert {w for w, member in found.items() if member["rows_entered"]} == {week}


def test_each_farm_goes_by_its_own_clock(staff: APIClient, cast: Cast) -> None:
    far = make_farm(cast.ours, 1)
    Farm.objects.filter(pk=far.pk).update(time_zone="Australia/Brisbane")
    Block.objects.create(farm=far, code="N1")
    at = dt.datetime(2026, 9, 13, 15, tzinfo=dt.UTC)  # a Monday there, a Sunday here
    for farm in (cast.ours.farm, far):
        came_at(send(farm, FILE), at)
    sent = {m["farm_code"]: m["sent"] for m in awaited(staff, cast, week="2026-W38")["results"]}
    assert sent == {"OURS": "nothing", "OURS-1": "landed"}
    assert clock_of(cast.co_op, dt.date(2026, 9, 14)) == "Atlantic/Madeira"


@pytest.mark.parametrize(
    "text",
    ["2026-W54", "2025-W53", "2026-W00", "2026-W1", "2026W38", "x", "", "٢٠٢٦-W38", "1969-W01"],
)
def test_a_week_that_is_none_is_refused(text: str, staff: APIClient, cast: Cast) -> None:
    answer = staff.get(f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files", {"week": text})
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == "week"


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (dt.date(2027, 1, 3), "2026-W53"),  # a year of 53 weeks
        (dt.date(2027, 1, 4), "2027-W01"),
        (dt.date(2024, 12, 30), "2025-W01"),
    ],
)
def test_weeks_are_those_of_iso_8601(day: dt.date, week: str) -> None:
    assert str(Week.of(day)) == week
    assert Week.read(week) == Week.of(day)
    assert Week.of(day).shifted(1).shifted(-1) == Week.of(day)


# Filters and forms -------------------------------------------------------------------------------


def test_the_members_can_be_narrowed(staff: APIClient, cast: Cast) -> None:
    make_farm(cast.ours, 1)
    sent_on(cast.ours, MONDAY)
    codes = {
        sent: [m["farm_code"] for m in awaited(staff, cast, sent=sent)["results"]]
        for sent in ("nothing", "landed", "not-in")
    }
    assert codes == {"nothing": ["OURS-1"], "landed": ["OURS"], "not-in": []}


@pytest.mark.parametrize("query", [{"sent": "perhaps"}, {"farm": "x"}])
def test_other_parameters_are_refused(query: Any, staff: APIClient, cast: Cast) -> None:
    answer = staff.get(f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files", query)
    assert answer.status_code == 400


def test_it_can_be_had_as_csv(staff: APIClient, cast: Cast) -> None:
    sent_on(cast.ours, MONDAY)
    answer = staff.get(f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files", {"format": "csv"})
    (row,) = csv.DictReader(StringIO(answer.content.decode()))
    assert (row["farm_code"], row["sent"], row["net_kg"]) == ("OURS", "landed", "41.0")


# Who sees it -------------------------------------------------------------------------------------


def test_only_the_co_ops_own_people_see_it(cast: Cast) -> None:
    path = f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files"
    codes = {
        "staff": client_of(cast.staff).get(path).status_code,
        "admin": client_of(cast.admin).get(path).status_code,
        "app": client_with(cast.co_op, "harvest:read").get(path).status_code,
        "schedule app": client_with(cast.co_op, "schedule:read").get(path).status_code,
        "member": client_of(cast.ours.owner).get(path).status_code,
        "member's app": client_with(cast.ours.farm, "harvest:read").get(path).status_code,
        "neighbour": client_of(cast.neighbour.owner).get(path).status_code,
    }
    assert codes == {
        "staff": 200,
        "admin": 200,
        "app": 200,
        "schedule app": 403,
        "member": 403,
        "member's app": 403,
        "neighbour": 404,
    }


def test_members_in_force_are_told_and_no_others(staff: APIClient, cast: Cast) -> None:
    left, joins = make_farm(cast.ours, 1), make_farm(cast.ours, 2)
    Membership.objects.filter(farm=left).update(ends_on=dt.date(2026, 9, 14))
    Membership.objects.filter(farm=joins).update(starts_on=dt.date(2026, 9, 16))
    assert only_member(staff, cast)["farm_code"] == "OURS"


def test_kilos_from_outside_the_membership_are_not_told(staff: APIClient, cast: Cast) -> None:
    sent_on(cast.ours, MONDAY)
    Membership.objects.filter(pk=cast.membership.pk).update(starts_on=dt.date(2026, 9, 11))
    assert only_member(staff, cast)["net_kg"] == 21
    assert only_member(client_of(cast.admin), cast)["net_kg"] == 41


def test_a_thousand_members_cost_as_many_queries_as_one(staff: APIClient, cast: Cast) -> None:
    sent_on(cast.ours, MONDAY)
    path = f"/api/v1/co-ops/{cast.co_op.pk}/awaited-files"
    with CaptureQueriesContext(connection) as for_one:
        staff.get(path)
    farms = Farm.objects.bulk_create(
        Farm(code=f"F{number:03}", name="x", time_zone=zone)
        for number, zone in enumerate(["Atlantic/Madeira", "Australia/Brisbane"] * 500)
    )
    Membership.objects.bulk_create(
        Membership(co_op=cast.co_op, farm=farm, starts_on=dt.date(2026, 1, 1)) for farm in farms
    )
    HarvestImport.objects.bulk_create(
        HarvestImport(
            farm=farm,
            file_name="a.csv",
            file_sha256="0" * 64,
            state="landed",
            created_at=MONDAY,
        )
        for farm in farms
    )
    with CaptureQueriesContext(connection) as for_many:
        answer = staff.get(path)
    assert len(answer.json()["results"]) == 1001
    assert {m["sent"] for m in answer.json()["results"]} == {"landed"}
    # Session, person, roles (2); co-op; zones; members; imports; kilos; entries; last files;
    # files that wait for a farm.
    assert (len(for_one), len(for_many)) == (12, 12)
