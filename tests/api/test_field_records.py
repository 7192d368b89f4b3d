"""Task logs, growth stages, pollen, rounds, counts and samples over the API."""

import datetime as dt
from typing import Any

import pytest
from rest_framework.test import APIClient

from records.models import Lot, Membership, PollinationRound
from records.services import saving
from tests.api.resources import body_of, make
from tests.cast import Cast, Place, client_of, client_with, make_place
from tests.records.making import line, make_batch, make_intake, make_tree

Body = dict[str, Any]


def post(client: APIClient, name: str, body: Body) -> Any:
    return client.post(f"/api/v1/{name}", body)


def created(client: APIClient, name: str, body: Body) -> Body:
    answer = post(client, name, body)
    assert answer.status_code == 201, answer.json()
    stored: Body = answer.json()
    return stored


def batches(place: Place) -> list[str]:
    return [str(make_batch(place).pk) for _ in "ab"]


REFUSED = [
    # resource, what is sent instead, status, the field that the sentence names
    ("task-logs", {"kind": "humming"}, 400, "/kind"),
    ("task-logs", {"details": {"weather": "fine"}}, 400, "/details"),
    ("task-logs", {"details": {"method": "topiary"}}, 400, "/details"),
    ("task-logs", {"done_on": "2099-01-01"}, 422, "/done_on"),
    ("task-logs", {"places": [{"row": 7, "from_position": 1, "to_position": 9}]}, 422, "/places"),
    ("task-logs", {"places": [{"row": 7, "from_position": 1}]}, 400, "/places/0/to_position"),
    ("growth-stages", {"bbch": "100"}, 400, "/bbch"),
    ("growth-stages", {"bbch": 100}, 400, "/bbch"),
    ("growth-stages", {"bbch": "5"}, 400, "/bbch"),
    ("growth-stages", {"bbch": "-1"}, 400, "/bbch"),
    ("growth-stages", {"observed_on": "2099-01-01"}, 422, "/observed_on"),
    # a block's stage says on how many of how many trees
    ("growth-stages", {"trees_seen": None, "trees_looked_at": None}, 422, "/trees_seen"),
    ("growth-stages", {"trees_looked_at": None}, 422, "/trees_seen"),
    ("growth-stages", {"trees_seen": 9, "trees_looked_at": 8}, 422, "/trees_seen"),
    ("trunk-girths", {"girth_mm": 0}, 400, "/girth_mm"),
    ("trunk-girths", {"trunk": 0}, 400, "/trunk"),
    ("trunk-girths", {"measured_on": "2099-01-01"}, 422, "/measured_on"),
    ("pollen-batches", {"donor_trees": [], "donor_cultivars": []}, 422, "/donor_trees"),
    ("pollen-batches", {"collected_at": "2099-01-01T00:00:00Z"}, 422, "/collected_at"),
    ("pollen-batches", {"storage_c": -274}, 400, "/storage_c"),
    # a round has the pollen and the bagging of its method
    ("pollination-rounds", {"pollen_batch": None}, 422, "/pollen_batch"),
    ("pollination-rounds", {"method": "natural"}, 422, "/pollen_batch"),
    (
        "pollination-rounds",
        {"method": "natural", "pollen_batch": None, "is_bagged": True},
        422,
        "/is_bagged",
    ),
    ("pollination-rounds", {"method": "bagged", "pollen_batch": None}, 422, "/is_bagged"),
    ("pollination-rounds", {"flowers": 0}, 400, "/flowers"),
    ("pollination-rounds", {"flowers_by_tree": {"tree one": 3}}, 400, "/flowers_by_tree"),
    # fruit within the marked flowers looked at, with its denominator
    ("fruit-counts", {"fruit": 21}, 422, "/fruit"),
    ("fruit-counts", {"flowers_looked_at": None}, 422, "/flowers_looked_at"),
    ("fruit-counts", {"flowers_looked_at": 400}, 422, "/flowers_looked_at"),
    ("fruit-counts", {"kind": "thinned"}, 422, "/thinned_because"),
    ("fruit-counts", {"thinned_because": "crowded"}, 422, "/thinned_because"),
    (
        "fruit-counts",
        {"counted": "whole-trees", "flowers_looked_at": None, "rounds": []},
        422,
        "/trees_looked_at",
    ),
    # a shape score is on a scale
    ("fruit-samples", {"shape_score": 2.2}, 422, "/shape_score"),
    (
        "fruit-samples",
        {"shape_score": 6, "shape_best": 1, "shape_worst": 5},
        422,
        "/shape_score",
    ),
    ("fruit-samples", {"weight_g": None}, 422, "/weight_g"),
    ("fruit-samples", {"weight_g": 0}, 400, "/weight_g"),
    # one observed row a station and day
    ("weather-days", {"day": "2026-06-01"}, 422, "/day"),
    ("weather-days", {"tmin_c": 24.1}, 422, "/tmin_c"),
    ("weather-days", {"forecast_on": "2026-06-01"}, 422, "/forecast_on"),
    ("weather-days", {"kind": "forecast"}, 422, "/forecast_on"),
    (
        "weather-days",
        {"tmin_c": None, "tmax_c": None, "hourly_temperature_c": None},
        422,
        "/tmin_c",
    ),
    ("weather-days", {"hourly_temperature_c": [20] * 22}, 422, "/hourly_temperature_c"),
    ("weather-days", {"humidity_percent": 101}, 400, "/humidity_percent"),
    ("weather-stations", {"time_zone": "Moon/Sea"}, 422, "/time_zone"),
    ("weather-stations", {"latitude": 32}, 422, "/latitude"),
    ("weather-stations", {"farm": None}, 422, "/farm"),
    # the shed
    ("intakes", {"weight": 0}, 400, "/weight"),
    ("intakes", {"weight": 2}, 422, "/weight"),  # less than its containers
    ("intakes", {"received_on": "2099-01-01"}, 422, "/received_on"),
    ("lots", {"shipped_on": "2026-09-11"}, 422, "/shipped_on"),
    ("lots", {"code": "L1"}, 422, "/code"),
    ("lots", {"farm": None}, 422, "/farm"),
    ("deliveries", {"delivered_on": "2026-09-09"}, 422, "/weights"),
]


@pytest.mark.parametrize(("name", "values", "status", "pointer"), REFUSED)
def test_bad_input_is_refused_with_a_sentence_that_names_the_field(
    name: str, values: Body, status: int, pointer: str, cast: Cast
) -> None:
    make(name, cast.ours, 1)
    answer = post(client_of(cast.ours.owner), name, {**body_of(name, cast.ours, 2), **values})
    problem = answer.json()
    assert answer.status_code == status, problem
    assert {error["pointer"] for error in problem["errors"]} == {pointer}
    assert pointer.lstrip("/") in problem["detail"]


def test_a_round_with_two_pollen_batches_is_refused(cast: Cast) -> None:
    body = body_of("pollination-rounds", cast.ours) | {"pollen_batch": batches(cast.ours)}
    answer = post(client_of(cast.ours.owner), "pollination-rounds", body)
    assert answer.status_code == 400
    assert answer.json()["detail"] == (
        "pollen_batch: A round has one pollen batch; another batch is another round."
    )


def test_grades_above_the_net_are_refused(cast: Cast) -> None:
    lines = [{"grade": str(cast.ours.grade.pk), "weight": 53, "unit": "kg"}]
    body = body_of("intakes", cast.ours) | {"sorted_weights": lines}  # 55 kg less two crates
    answer = post(client_of(cast.ours.owner), "intakes", body)
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (422, "grades-above-net")
    assert "53 kg" in answer.json()["detail"]


@pytest.mark.parametrize(
    "line",
    [
        {"weight": 1, "unit": "kg"},  # neither a grade nor a reason
        {"weight": 1, "unit": "kg", "reject_reason": "split", "grade": True},  # both
    ],
)
def test_a_sorted_line_has_a_grade_or_a_reason(line: Body, cast: Cast) -> None:
    if "grade" in line:
        line = line | {"grade": str(cast.ours.grade.pk)}
    body = body_of("intakes", cast.ours) | {"sorted_weights": [line]}
    answer = post(client_of(cast.ours.owner), "intakes", body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/sorted_weights/0/grade"


def test_another_farms_ids_in_lines_do_not_exist(cast: Cast) -> None:
    """The tenancy matrix knows the links of records; these are those of their lines."""
    ours, client = cast.ours, client_of(cast.ours.owner)
    theirs = str(make("intakes", cast.neighbour).pk)
    weight = {"weight": 1, "unit": "kg"}
    cases = [
        ("intakes", "sorted_weights", {"grade": str(cast.neighbour.grade.pk), **weight}, "grade"),
        ("lots", "lines", {"intake": theirs, **weight}, "intake"),
        ("weather-stations", "uses", {"farm": str(cast.neighbour.farm.pk)}, "farm"),
    ]
    for name, field, wanted, key in cases:
        answer = post(client, name, body_of(name, ours) | {field: [wanted]})
        assert answer.status_code == 422
        assert [e["pointer"] for e in answer.json()["errors"]] == [f"/{field}/0/{key}"]


def test_trees_are_picked_by_row_and_range_of_positions(cast: Cast) -> None:
    inside = [make_tree(cast.ours, n) for n in (2, 3)]
    make_tree(cast.ours, 4)
    make_tree(cast.ours, 1, row=2)
    make_tree(cast.ours, 9, row=3, removed_on=dt.date(2026, 1, 1))
    body = body_of("pollination-rounds", cast.ours) | {
        "trees": [],
        "places": [{"row": 1, "from_position": 2, "to_position": 3}],
    }
    stored = created(client_of(cast.ours.owner), "pollination-rounds", body)
    assert sorted(stored["trees"]) == sorted(str(tree.pk) for tree in inside)


def test_a_round_tells_its_flowers_by_tree_its_pollens_age_and_whether_it_was_own(
    cast: Cast,
) -> None:
    other = make_tree(cast.ours, 2)
    counted = {str(cast.ours.tree.pk): 30, str(other.pk): 10}
    body = body_of("pollination-rounds", cast.ours) | {
        "trees": list(counted),
        "flowers": 40,
        "flowers_by_tree": counted,
    }
    stored = created(client_of(cast.ours.owner), "pollination-rounds", body)
    assert stored["flowers_by_tree"] == counted
    assert stored["pollen_age_minutes"] == 105
    assert stored["is_self"] is None  # a batch of own and other pollen
    assert [one["code"] for one in stored["warnings"]] == ["pollen-old"]


def test_a_change_of_lines_alone_raises_the_version(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    stored = created(client, "intakes", body_of("intakes", cast.ours))
    path, same = f"/api/v1/intakes/{stored['id']}", stored["sorted_weights"]
    lines = [{k: v for k, v in one.items() if k != "net_kg"} for one in same]
    assert client.patch(path, {"sorted_weights": lines}).json()["version"] == 1
    answer = client.patch(path, {"sorted_weights": lines[:1]}).json()
    assert (answer["version"], len(answer["sorted_weights"])) == (2, 1)


def test_a_lots_code_is_assigned_once_and_cannot_change(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    stored = created(client, "lots", body_of("lots", cast.ours))
    path = f"/api/v1/lots/{stored['id']}"
    answer = client.patch(path, {"code": "L9", "shipped_on": "2026-09-13"})
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (422, "fixed")
    assert client.patch(path, {"shipped_on": "2026-09-13"}).status_code == 200


# Who may do it -----------------------------------------------------------------------------------

OBSERVED = ("growth-stages", "pollination-rounds", "fruit-counts", "fruit-samples")


@pytest.mark.parametrize("name", OBSERVED)
def test_advisers_write_what_they_observe_where_the_farm_lets_them(name: str, cast: Cast) -> None:
    client, body = client_of(cast.adviser), body_of(name, cast.ours)
    assert post(client, name, body).status_code == 403
    cast.ours.farm.adviser_writes = True
    cast.ours.farm.save()
    assert post(client, name, body).status_code == 201


@pytest.mark.parametrize("name", ["task-logs", "trunk-girths", "weather-days", "intakes"])
def test_advisers_write_nothing_else(name: str, cast: Cast) -> None:
    cast.ours.farm.adviser_writes = True
    cast.ours.farm.save()
    answer = post(client_of(cast.adviser), name, body_of(name, cast.ours))
    assert answer.status_code == 403


@pytest.mark.parametrize(
    ("days_back", "status"),
    [
        (14, 201),
        (15, 422),  # the farm's backdate_days is 14
    ],
)
def test_field_workers_write_their_own_so_many_days_back(
    days_back: int, status: int, cast: Cast, settings: Any
) -> None:
    settings.AS_OF = dt.date(2026, 9, 20)
    done_on = settings.AS_OF - dt.timedelta(days=days_back)
    body = body_of("task-logs", cast.ours) | {"done_on": str(done_on), "trees": []}
    client = client_of(cast.worker)
    answer = post(client, "task-logs", body)
    assert answer.status_code == status
    found = client.get("/api/v1/task-logs").json()["results"]
    assert len(found) == (1 if status == 201 else 0)


def test_a_harvest_share_shows_intakes_but_no_field_records(cast: Cast) -> None:
    make("intakes", cast.ours)
    make("fruit-counts", cast.ours)
    staff = client_of(cast.staff)
    intake = staff.get("/api/v1/intakes").json()["results"][0]
    assert (intake["net_kg"], intake["delivery"]) == (52, None)
    for name in ("fruit-counts", "pollination-rounds", "pollen-batches"):
        assert staff.get(f"/api/v1/{name}").json()["results"] == []
    assert PollinationRound.objects.exists()


def test_staff_enter_intakes_where_the_membership_lets_them(cast: Cast) -> None:
    body = body_of("intakes", cast.ours) | {"co_op": str(cast.co_op.pk), "delivery": None}
    staff = client_of(cast.staff)
    assert post(staff, "intakes", body).status_code == 403
    cast.membership.staff_may_edit = True
    cast.membership.save()
    assert post(staff, "intakes", body).status_code == 201


def test_a_co_op_packs_the_fruit_of_members_that_let_it(cast: Cast) -> None:
    intake = make("intakes", cast.ours)
    intake.co_op = cast.co_op
    intake.save()
    line = {"intake": str(intake.pk), "weight": 10, "unit": "kg"}
    body = {
        "co_op": str(cast.co_op.pk),
        "code": "C1",
        "packed_on": "2026-09-12",
        "lines": [line],
    }
    assert post(client_of(cast.ours.owner), "lots", body).status_code == 403
    refused = post(client_of(cast.staff), "lots", body).json()
    assert [(e["pointer"], e["code"]) for e in refused["errors"]] == [("/lines", "not-allowed")]
    cast.membership.staff_may_edit = True
    cast.membership.save()
    stored = created(client_of(cast.staff), "lots", body)
    assert stored["lines"][0]["net_kg"] == 10
    app = client_with(cast.co_op, "harvest:read")
    assert app.get(f"/api/v1/lots/{stored['id']}").json()["code"] == "C1"


@pytest.fixture
def mixed_lot(cast: Cast) -> Lot:
    """A lot of our co-op with fruit of our farm and of another member."""
    other = make_place("THIRD")
    Membership.objects.create(co_op=cast.co_op, farm=other.farm, starts_on=dt.date(2020, 1, 1))
    lines = [
        line(kilos, intake=make_intake(place, co_op=cast.co_op))
        for place, kilos in ((cast.ours, 30), (other, 50))
    ]
    lot = Lot(co_op=cast.co_op, code="C1", packed_on=dt.date(2026, 9, 12), note="soft ones")
    saved: Lot = saving.save(lot, lines=lines)
    return saved


def test_a_grower_sees_a_co_ops_lot_with_the_own_lines_only(cast: Cast, mixed_lot: Lot) -> None:
    path = f"/api/v1/lots/{mixed_lot.pk}"
    full = client_of(cast.staff).get(path).json()
    seen = client_of(cast.ours.owner).get(path).json()
    assert sorted(one["net_kg"] for one in full["lines"]) == [30, 50]
    assert [one["net_kg"] for one in seen["lines"]] == [30]
    assert (seen["code"], seen["packed_on"]) == ("C1", "2026-09-12")
    # A note may be about another member's fruit.
    assert (full["note"], seen["note"]) == ("soft ones", None)


def test_a_lot_is_found_only_by_those_whose_fruit_is_in_it(cast: Cast, mixed_lot: Lot) -> None:
    path = f"/api/v1/lots/{mixed_lot.pk}"
    assert client_of(cast.neighbour.owner).get(path).status_code == 404
    assert client_of(cast.worker).get(path).status_code == 404
    theirs = mixed_lot.lines.exclude(farm=cast.ours.farm).get().intake_id
    owner = client_of(cast.ours.owner)
    assert owner.get("/api/v1/lots", {"intake": str(theirs)}).status_code == 422
    assert owner.patch(path, {"shipped_to": "us"}).status_code == 403
    assert owner.delete(path).status_code == 403


def test_a_farms_harvest_app_sees_no_more_of_lots_than_its_scope_says(
    cast: Cast, mixed_lot: Lot
) -> None:
    app = client_with(cast.ours.farm, "harvest:read")
    seen = app.get(f"/api/v1/lots/{mixed_lot.pk}").json()
    assert (seen["code"], seen["lines"]) == (None, None)


def test_a_farm_sees_the_days_of_the_station_it_goes_by(cast: Cast) -> None:
    staff = client_of(cast.staff)
    uses = [{"farm": str(cast.ours.farm.pk), "starts_on": "2026-06-02", "ends_on": "2026-06-03"}]
    body = {
        "co_op": str(cast.co_op.pk),
        "name": "valley",
        "time_zone": "Atlantic/Madeira",
        "uses": uses,
    }
    station = created(staff, "weather-stations", body)["id"]
    for number in (1, 2, 3, 4):
        day = {"station": station, "day": f"2026-06-0{number}", "tmax_c": 22}
        created(staff, "weather-days", day)
    ours, theirs = client_of(cast.ours.owner), client_of(cast.neighbour.owner)
    seen = ours.get("/api/v1/weather-days", {"station": station}).json()["results"]
    assert sorted(day["day"] for day in seen) == ["2026-06-02", "2026-06-03"]
    assert theirs.get("/api/v1/weather-days").json()["results"] == []
    assert theirs.get(f"/api/v1/weather-stations/{station}").status_code == 404
    day = {"station": station, "day": "2026-06-05", "tmax_c": 22}
    assert post(ours, "weather-days", day).status_code == 403


def test_a_missing_hour_stays_missing(cast: Cast) -> None:
    hours = [None, *[18.5] * 23]
    body = body_of("weather-days", cast.ours) | {"hourly_temperature_c": hours}
    stored = created(client_of(cast.ours.owner), "weather-days", body)
    assert (stored["hourly_temperature_c"], stored["rain_mm"]) == (hours, None)


def test_changes_are_in_the_farms_history(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    stored = created(client, "growth-stages", body_of("growth-stages", cast.ours))
    client.patch(f"/api/v1/growth-stages/{stored['id']}", {"bbch": "67"})
    query = {"farm": str(cast.ours.farm.pk), "kind": "growth-stages"}
    changes = client.get("/api/v1/history", query).json()["results"]
    assert [(c["action"], c["values"]["bbch"]) for c in changes] == [
        ("changed", "67"),
        ("created", "65"),
    ]
