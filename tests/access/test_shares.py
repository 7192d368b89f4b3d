"""What a co-op's staff see of a member: what it shares, for the dates of its membership."""

import datetime as dt
from typing import Any

import pytest

from orchard.access import SCOPES
from records.models import (
    CoOp,
    CoOpGrade,
    CoOpRole,
    GradeMapping,
    HarvestWeight,
    Membership,
)
from records.services import saving
from tests.api.resources import RESOURCES, make
from tests.cast import Cast, client_of, client_with, make_person, weighing

V1 = "/api/v1"
WEIGHTS = f"{V1}/harvest-weights"
START, END = dt.date(2026, 4, 1), dt.date(2026, 9, 9)


def set_terms(cast: Cast, **terms: Any) -> None:
    Membership.objects.filter(pk=cast.membership.pk).update(**terms)


def picked(cast: Cast, day: dt.date) -> HarvestWeight:
    weight = HarvestWeight(
        farm=cast.ours.farm, block=cast.ours.block, picked_on=day, fruit_count=10
    )
    return saving.save(weight)


# Dates -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shares", ["harvest", "all"])
@pytest.mark.parametrize(
    ("day", "is_seen"),
    [
        (START - dt.timedelta(days=1), False),
        (START, True),
        (END, True),  # the last day counts
        (END + dt.timedelta(days=1), False),
    ],
)
def test_weighings_are_seen_from_the_first_to_the_last_day_of_membership(
    day: dt.date, is_seen: bool, shares: str, cast: Cast
) -> None:
    set_terms(cast, starts_on=START, ends_on=END, shares=shares)
    weight = picked(cast, day)
    for client in (client_of(cast.staff), client_with(cast.co_op, *SCOPES)):
        assert client.get(f"{WEIGHTS}/{weight.pk}").status_code == (200 if is_seen else 404)
        listed = client.get(WEIGHTS).json()["results"]
        assert [row["id"] for row in listed] == ([str(weight.pk)] if is_seen else [])


def test_names_of_old_weighings_stay_readable_after_a_membership(cast: Cast) -> None:
    set_terms(cast, starts_on=START, ends_on=END)
    client = client_of(cast.staff)
    for address in (f"farms/{cast.ours.farm.pk}", f"blocks/{cast.ours.block.pk}"):
        assert client.get(f"{V1}/{address}").status_code == 200


@pytest.mark.parametrize(
    ("day", "status"),
    [
        (START - dt.timedelta(days=1), 403),  # the place is seen, the day is not the co-op's
        (START, 201),
        (END, 201),
        (END + dt.timedelta(days=1), 403),
    ],
)
def test_staff_who_may_edit_do_so_within_the_membership(
    day: dt.date, status: int, cast: Cast
) -> None:
    set_terms(cast, starts_on=START, ends_on=END, staff_may_edit=True)
    answer = client_of(cast.staff).post(WEIGHTS, weighing(cast.ours, picked_on=str(day)))
    assert answer.status_code == status
    assert HarvestWeight.objects.exists() is (status == 201)


def test_a_weighing_is_not_moved_out_of_the_membership(cast: Cast) -> None:
    set_terms(cast, starts_on=START, ends_on=END, staff_may_edit=True)
    weight = picked(cast, START)
    before = str(START - dt.timedelta(days=1))
    answer = client_of(cast.staff).patch(f"{WEIGHTS}/{weight.pk}", {"picked_on": before})
    assert answer.status_code == 403
    weight.refresh_from_db()
    assert (weight.picked_on, weight.version) == (START, 1)


def test_former_staff_see_nothing(cast: Cast) -> None:
    CoOpRole.objects.filter(person=cast.staff).update(ends_on=dt.date(2026, 9, 11))
    assert client_of(cast.staff).get(WEIGHTS).status_code == 403


# Fields ------------------------------------------------------------------------------------------

EVERYTHING = None
BASE = {"id", "version", "created_at", "updated_at"}
# Under `harvest`: farm and block codes, cultivar, tree numbers, area, weighings. What names the
# parts of a weighing (its container, grade, crop) and of the table made of it goes with it.
SHOWN: dict[str, set[str] | None] = {
    "farms": {"code"},
    "season-starts": set(),
    "blocks": {"farm", "code", "area_m2", "boundary_area_m2"},
    "planting-lines": {"farm", "block", "cultivar", "tree_count", "area_m2"},
    "trees": {"farm", "block", "number", "cultivar"},
    "grafts": {"farm", "tree", "cultivar", "share_percent"},
    "crops": {"farm", "block", "name"},
    "harvest-weights": {
        "farm",
        "block",
        "trees",
        "picked_on",
        "weight",
        "unit",
        "weight_kind",
        "containers",
        "container",
        "tare_g",
        "fruit_count",
        "net_kg",
        "estimated_kg",
        "grade",
        "entered_cultivar",
        "cultivar",
        "crop",
        "crop_chosen_by",
        "docket",
        "ticket",
        "harvest_import",
        "retired_on",
    },
    "deliveries": set(),
    "intakes": {
        "farm",
        "co_op",
        "received_on",
        "received_at",
        "docket",
        "cultivar",
        "block",
        "weight",
        "unit",
        "weight_kind",
        "containers",
        "container",
        "tare_g",
        "net_kg",
        "sorted_weights",
        "retired_on",
    },
    "lots": set(),
    "trace-coverages": EVERYTHING,
    "cultivars": EVERYTHING,
    "containers": EVERYTHING,
    "grades": EVERYTHING,
    "grade-mappings": EVERYTHING,
    "memberships": EVERYTHING,
    "harvest-imports": EVERYTHING,
    "file-layouts": EVERYTHING,
    "findings": EVERYTHING,
}
# Of these a harvest share shows no row at all.
UNSHOWN = (
    "task-logs",
    "growth-stages",
    "trunk-girths",
    "pollen-batches",
    "pollination-rounds",
    "fruit-counts",
    "fruit-samples",
    "weather-stations",
    "weather-days",
    "task-rules",
    "schedule-settings",
    "species-figures",
    "flower-hours",
    "next-tasks",
    "undated-tasks",
    "stage-forecasts",
    "crop-plans",
    "alerts",
)
# So that what is withheld is there to be withheld.
FILLED: dict[str, dict[str, Any]] = {
    "farms": {
        "latitude": 32.7,
        "longitude": -17.0,
        "business_name": "Hill growers",
        "phone": "+351 000 000 000",
        "address": "The long road 5",
    },
    "blocks": {
        "boundary": {
            "type": "Polygon",
            "coordinates": [[[-17, 32.7], [-16.999, 32.7], [-16.999, 32.701], [-17, 32.7]]],
        }
    },
    "planting-lines": {"planted_year": 2018, "ended_on": "2026-01-01"},
    "trees": {"planted_on": "2018-03-01", "removed_on": "2026-01-01"},
    "grafts": {"removed_on": "2026-01-01"},
    "crops": {"bloom_began_on": "2026-07-01", "picking_ends_on": "2026-12-01"},
    "harvest-weights": {
        "pickers": ["Ana"],
        "minutes": 30,
        "note": "private",
        "recorded_at": "2026-09-10T08:00:00Z",
    },
    "deliveries": {"note": "private"},
    "intakes": {
        "note": "private",
        "recorded_at": "2026-09-11T08:00:00Z",
        "cooled_on": "2026-09-11",
        "cooling_location": "The farm's cold room",
    },
    "lots": {
        "note": "private",
        "product": "sugar apple, cartons of 5 kg",
        "shipped_to": "the market",
        "shipped_to_location": "+351 000 000 001, the quay 2",
    },
}


def test_every_shared_resource_is_in_the_table() -> None:
    farms_own = {
        name
        for name, resource in RESOURCES.items()
        if resource.model is not None and not resource.is_reference
    }
    # Not shared through a membership, or the co-op's or the sender's own.
    apart = {"co-ops", "co-op-grades", "farm-roles", "tokens", "season-summaries"}
    apart |= {"file-batches", "batch-files", "invitations"}
    apart |= {"closed-seasons", "pools", "pool-deductions", "statements", "statement-lines"}
    assert {*SHOWN, *UNSHOWN} == farms_own - apart


@pytest.mark.parametrize("name", SHOWN)
def test_a_harvest_share_shows_these_fields_and_withholds_the_others(name: str, cast: Cast) -> None:
    address = f"{V1}/{name}/{make(name, cast.ours).pk}"
    owner = client_of(cast.ours.owner)
    if name in FILLED:
        assert owner.patch(address, FILLED[name]).status_code == 200
    full, limited = owner.get(address).json(), client_of(cast.staff).get(address).json()
    shown = SHOWN[name] if SHOWN[name] is not None else set(full)
    hidden = set(full) - shown - BASE - {"warnings"}
    assert set(limited) == set(full)
    assert {field: limited[field] for field in hidden} == dict.fromkeys(hidden)
    assert {f: limited[f] for f in shown | BASE} == {f: full[f] for f in shown | BASE}
    withheld = {field for field in hidden if full[field] is not None}
    assert set(FILLED.get(name, {})) <= withheld


@pytest.mark.parametrize("name", UNSHOWN)
def test_a_harvest_share_shows_no_row_of_these(name: str, cast: Cast) -> None:
    address = f"{V1}/{name}/{make(name, cast.ours).pk}"
    assert client_of(cast.ours.owner).get(address).status_code == 200
    assert client_of(cast.staff).get(address).status_code == 404


def test_a_share_of_all_withholds_nothing(cast: Cast) -> None:
    set_terms(cast, shares="all")
    for name in (*SHOWN, *UNSHOWN):
        record = cast.ours.farm if name == "farms" else make(name, cast.ours)
        address = f"{V1}/{name}/{record.pk}"
        full = client_of(cast.ours.owner).get(address).json()
        assert client_of(cast.staff).get(address).json() == full


def test_withheld_fields_are_empty_in_tables_too(cast: Cast) -> None:
    client_of(cast.ours.owner).post(WEIGHTS, weighing(cast.ours, note="private", pickers=["Ana"]))
    answer = client_of(cast.staff).get(WEIGHTS, {"format": "csv"})
    assert answer.status_code == 200
    assert b"12.5" in answer.content
    assert b"private" not in answer.content
    assert b"Ana" not in answer.content


@pytest.mark.parametrize(
    ("scopes", "is_limited"),
    [
        (["schedule:read"], True),
        (["harvest:read"], True),
        (["harvest:write"], True),
        (["records:read"], False),
        (["harvest:read", "records:read"], False),  # the wider one counts
    ],
)
def test_a_farms_own_app_sees_as_little_as_its_scopes_say(
    scopes: list[str], is_limited: bool, cast: Cast
) -> None:
    shown = client_with(cast.ours.farm, *scopes).get(f"{V1}/farms/{cast.ours.farm.pk}").json()
    assert shown["code"] == "OURS"
    assert (shown["name"] is None) is is_limited


@pytest.mark.parametrize("shares", ["harvest", "all"])
def test_a_co_ops_harvest_app_is_limited_whatever_the_member_shares(
    shares: str, cast: Cast
) -> None:
    set_terms(cast, shares=shares)
    client = client_with(cast.co_op, "harvest:read")
    assert client.get(f"{V1}/farms/{cast.ours.farm.pk}").json()["name"] is None


# A farm in two co-ops ----------------------------------------------------------------------------


@pytest.fixture
def other_co_op(cast: Cast) -> CoOp:
    """Another co-op of our farm, which shares all there."""
    co_op = CoOp.objects.create(code="OTHER", name="Another co-op")
    Membership.objects.create(
        co_op=co_op, farm=cast.ours.farm, starts_on=dt.date(2020, 1, 1), shares="all"
    )
    CoOpRole.objects.create(co_op=co_op, person=make_person("staff@other.example"))
    return co_op


def test_each_co_op_sees_its_own_share(cast: Cast, other_co_op: CoOp) -> None:
    address = f"{V1}/farms/{cast.ours.farm.pk}"
    others = other_co_op.staff.get().person
    assert client_of(cast.staff).get(address).json()["name"] is None
    assert client_of(others).get(address).json()["name"] == "Farm OURS"


def test_a_co_op_does_not_see_a_members_terms_with_another(cast: Cast, other_co_op: CoOp) -> None:
    client = client_of(cast.staff)
    theirs = other_co_op.memberships.get()
    listed = client.get(f"{V1}/memberships").json()["results"]
    assert [row["id"] for row in listed] == [str(cast.membership.pk)]
    assert client.get(f"{V1}/memberships/{theirs.pk}").status_code == 404


def test_a_co_op_does_not_see_what_a_grade_counts_as_in_another(
    cast: Cast, other_co_op: CoOp
) -> None:
    mappings = [
        GradeMapping.objects.create(
            farm=cast.ours.farm,
            grade=cast.ours.grade,
            co_op_grade=CoOpGrade.objects.create(co_op=co_op, code="I", is_marketable=True),
            applies_from=dt.date(2026, 1, 1),
        )
        for co_op in (cast.co_op, other_co_op)
    ]
    listed = client_of(cast.staff).get(f"{V1}/grade-mappings").json()["results"]
    assert [row["id"] for row in listed] == [str(mappings[0].pk)]
    listed = client_of(cast.ours.owner).get(f"{V1}/grade-mappings").json()["results"]
    assert len(listed) == 2
