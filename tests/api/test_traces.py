"""Traces of an invented season's fruit: two members, a co-op's shed, one mixed lot."""

import datetime as dt
import io
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import openpyxl
import pytest
from rest_framework.test import APIClient

from records.models import (
    Delivery,
    Farm,
    HarvestWeight,
    Intake,
    Lot,
    Membership,
    TraceCoverage,
)
from records.services.saving import save
from tests.cast import Cast, Place, client_of, client_with, make_cultivar, make_species
from tests.records.making import line, make_intake

PICKED, PACKED = dt.date(2026, 9, 10), dt.date(2026, 9, 12)


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 10, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fruit:
    """What of one farm went into the lot."""

    weight: HarvestWeight
    delivery: Delivery
    intake: Intake


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    cast: Cast
    ours: Fruit
    theirs: Fruit
    lot: Lot


def pick(place: Place, kilos: int, **values: Any) -> HarvestWeight:
    weight: HarvestWeight = save(
        HarvestWeight(
            farm=place.farm,
            block=place.block,
            picked_on=PICKED,
            weight=Decimal(kilos),
            unit="kg",
            weight_kind="net",
            **values,
        ),
        trees=[place.tree],
    )
    return weight


def bring(place: Place, cast: Cast, docket: str) -> Fruit:
    weight = pick(place, 60)
    delivery = save(
        Delivery(farm=place.farm, co_op=cast.co_op, delivered_on=PICKED, docket=docket),
        weights=[weight],
    )
    intake = make_intake(
        place,
        co_op=cast.co_op,
        delivery=delivery,
        received_on=PICKED,
        docket=docket,
        cultivar=make_cultivar(),
        weight=Decimal(60),
        weight_kind="net",
    )
    return Fruit(weight=weight, delivery=delivery, intake=intake)


@pytest.fixture
def season(cast: Cast) -> Season:
    """Both farms are members that share their harvest; the co-op packs 50 + 60 kg of theirs."""
    Membership.objects.create(
        co_op=cast.co_op, farm=cast.neighbour.farm, starts_on=dt.date(2020, 1, 1)
    )
    Farm.objects.filter(pk=cast.ours.farm.pk).update(
        business_name="Hill growers", phone="0000 1", address="The long road 5"
    )
    ours, theirs = bring(cast.ours, cast, "D1"), bring(cast.neighbour, cast, "D2")
    lot = save(
        Lot(co_op=cast.co_op, code="L-1", packed_on=PACKED, product="sugar apple, 5 kg cartons"),
        lines=[line(50, intake=ours.intake), line(60, intake=theirs.intake)],
    )
    return Season(cast=cast, ours=ours, theirs=theirs, lot=lot)


def trace(client: APIClient, **query: Any) -> Any:
    answer = client.get("/api/v1/traces", {name: str(value) for name, value in query.items()})
    assert answer.status_code == 200, answer.content
    return answer.json()


def labels(answer: Any) -> list[str]:
    return [node["label"] for node in answer["results"]]


def gaps(answer: Any) -> set[str]:
    return {gap["code"] for gap in answer["missing"]}


OURS_AT_THE_SHED = ["weighing of 2026-09-10 in N1", "delivery D1 of 2026-09-10"]


def test_a_lot_leads_back_to_intakes_weighings_blocks_trees_and_days(season: Season) -> None:
    found = trace(client_of(season.cast.staff), lot=season.lot.pk)
    kinds = [node["kind"] for node in found["results"]]
    assert kinds == [
        *("picking-day", "picking-day", "tree", "tree", "block", "block"),
        *("harvest-weight", "harvest-weight", "delivery", "delivery", "intake", "intake", "lot"),
    ]
    into_lot = [each for each in found["links"] if each["target"]["kind"] == "lot"]
    assert {each["source"]["id"]: each["net_kg"] for each in into_lot} == {
        str(season.ours.intake.pk): 50.0,
        str(season.theirs.intake.pk): 60.0,
    }
    assert found["results"][-1]["net_kg"] == 110.0
    assert gaps(found) == {"not-shipped"}


@pytest.mark.parametrize("start", ["tree", "block", "day", "harvest_weight", "delivery", "intake"])
def test_fruit_is_followed_on_to_its_lot_from_wherever_a_trace_starts(
    start: str, season: Season
) -> None:
    place = season.cast.ours
    starts: dict[str, dict[str, Any]] = {
        "tree": {"tree": place.tree.pk},
        "block": {"block": place.block.pk, "picked_on": PICKED},
        "day": {"farm": place.farm.pk, "picked_on": PICKED},
        "harvest_weight": {"harvest_weight": season.ours.weight.pk},
        "delivery": {"delivery": season.ours.delivery.pk},
        "intake": {"intake": season.ours.intake.pk},
    }
    found = trace(client_of(place.owner), **starts[start])
    assert labels(found)[-4:] == [*OURS_AT_THE_SHED, "intake D1 of 2026-09-10", "lot L-1"]
    assert {"block N1", "picking of 2026-09-10"} <= set(labels(found))
    partly = next(gap for gap in found["missing"] if gap["code"] == "partly-packed")
    assert partly["net_kg"] == 10.0
    assert partly["reason"] == (
        "In lots with a part only, and with the rest in none (10 kg): intake D1 of 2026-09-10."
    )


def test_a_day_on_which_nothing_was_picked_leads_nowhere(season: Season) -> None:
    found = trace(
        client_of(season.cast.ours.owner), block=season.cast.ours.block.pk, picked_on="2026-09-09"
    )
    assert labels(found) == ["block N1"]


def test_a_member_sees_its_own_part_of_a_mixed_lot_only(season: Season) -> None:
    found = trace(client_of(season.cast.ours.owner), lot=season.lot.pk)
    assert {node["farm"] for node in found["results"]} == {"OURS", None}  # the lot is the co-op's
    assert found["results"][-1]["net_kg"] == 50.0
    assert gaps(found) == {"own-part", "not-shipped"}
    text = str(found)
    for theirs in (season.theirs.intake, season.theirs.delivery, season.theirs.weight):
        assert str(theirs.pk) not in text
    assert "D2" not in text


def test_strangers_find_no_lot(season: Season) -> None:
    Membership.objects.filter(farm=season.cast.neighbour.farm).delete()
    season.lot.lines.filter(intake=season.theirs.intake).delete()
    answer = client_of(season.cast.neighbour.owner).get(
        "/api/v1/traces", {"lot": str(season.lot.pk)}
    )
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "lot"


def test_a_harvest_share_shows_no_delivery_to_a_shed_of_the_farms_own(season: Season) -> None:
    """The co-op packs what it received; what the farm's own shed received is the farm's."""
    Intake.objects.filter(pk=season.ours.intake.pk).update(co_op=None)
    Delivery.objects.filter(pk=season.ours.delivery.pk).update(co_op=None)
    found = trace(client_of(season.cast.staff), intake=season.ours.intake.pk)
    assert "delivery" not in {node["kind"] for node in found["results"]}
    assert "not-shown" in gaps(found)
    assert "Hill growers" not in str(found)


def test_a_farms_own_lot_is_not_traced_through_a_harvest_share(season: Season) -> None:
    own = save(Lot(farm=season.cast.ours.farm, code="OWN", packed_on=PACKED))
    answer = client_of(season.cast.staff).get("/api/v1/traces", {"lot": str(own.pk)})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["code"] == "not-shared"
    assert labels(trace(client_of(season.cast.ours.owner), lot=own.pk)) == ["lot OWN"]


def test_loose_ends_are_told_with_their_kilos(season: Season) -> None:
    place = season.cast.ours
    pick(place, 7)
    make_intake(place, received_on=PICKED, weight=Decimal(9), weight_kind="net", block=place.block)
    found = trace(client_of(place.owner), block=place.block.pk)
    told = {gap["code"]: gap for gap in found["missing"]}
    assert told["not-delivered"]["net_kg"] == 7.0
    assert told["not-packed"]["net_kg"] == 9.0
    assert told["not-delivered"]["reason"].startswith("In no delivery (7 kg): weighing of 2026-")


@pytest.mark.parametrize(
    ("without", "code"),
    [
        ("delivery", "no-origin"),
        ("weights", "delivery-without-weighing"),
        ("trees", "no-tree"),
        ("lines", "lot-without-intake"),
    ],
)
def test_what_the_chain_lacks_is_said(without: str, code: str, season: Season) -> None:
    season.theirs.intake.lot_lines.all().delete()
    if without == "delivery":
        Intake.objects.update(delivery=None, block=None)
    elif without == "weights":
        season.ours.delivery.weight_links.all().delete()
    elif without == "trees":
        season.ours.weight.tree_links.all().delete()
    else:
        season.lot.lines.all().delete()
    found = trace(client_of(season.cast.staff), lot=season.lot.pk)
    assert gaps(found) == {code, "not-shipped"}


def test_a_retired_weighing_is_no_part_of_the_chain(season: Season) -> None:
    HarvestWeight.objects.filter(pk=season.ours.weight.pk).update(retired_on=PACKED)
    found = trace(client_of(season.cast.ours.owner), delivery=season.ours.delivery.pk)
    assert "harvest-weight" not in {node["kind"] for node in found["results"]}
    assert "delivery-without-weighing" in gaps(found)


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ({}, "lot"),  # from where?
        ({"lot": 1, "intake": 1}, "intake"),  # from one of them
        ({"lot": 1, "picked_on": "2026-09-10"}, "picked_on"),  # a lot has no one picking day
        ({"farm": 1}, "picked_on"),  # a farm needs one
    ],
)
def test_a_trace_starts_at_one_place(query: dict[str, Any], parameter: str, season: Season) -> None:
    ids = {"lot": season.lot, "intake": season.ours.intake, "farm": season.cast.ours.farm}
    sent = {name: str(ids[name].pk) if name in ids else day for name, day in query.items()}
    answer = client_of(season.cast.ours.owner).get("/api/v1/traces", sent)
    assert answer.status_code == 422
    assert [each["parameter"] for each in answer.json()["errors"]] == [parameter]


# Coverage ----------------------------------------------------------------------------------------


def covered(season: Season, **values: Any) -> TraceCoverage:
    entry: TraceCoverage = save(
        TraceCoverage(
            **{
                "co_op": season.cast.co_op,
                "species": make_species(),
                "is_covered": False,
                "starts_on": dt.date(2026, 1, 1),
                "source": "The list of January, read by the office",
                "created_by": season.cast.staff,
                **values,
            }
        )
    )
    return entry


def test_without_an_entry_coverage_is_not_stated(season: Season) -> None:
    [told] = trace(client_of(season.cast.staff), lot=season.lot.pk)["coverage"]
    assert (told["business"], told["species"], told["coverage"]) == (
        "COOP",
        "sugar apple",
        "not stated",
    )


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        ({"is_covered": True}, "covered"),
        ({"is_covered": False}, "not covered"),
        ({"is_covered": True, "starts_on": dt.date(2026, 9, 13)}, "not stated"),  # from a day later
        ({"is_covered": True, "ends_on": PACKED}, "covered"),  # the last day counts
        ({"is_covered": True, "ends_on": dt.date(2026, 9, 11)}, "not stated"),
    ],
)
def test_coverage_is_what_the_packer_stated_for_the_day(
    entry: dict[str, Any], expected: str, season: Season
) -> None:
    covered(season, **entry)
    for client in (client_of(season.cast.staff), client_of(season.cast.ours.owner)):
        [told] = trace(client, lot=season.lot.pk)["coverage"]
        assert told["coverage"] == expected
        assert told["entered_by"] == ("" if expected == "not stated" else season.cast.staff.name)


def test_a_business_says_one_thing_of_a_species_on_a_day(season: Season) -> None:
    covered(season)
    body = {
        "co_op": str(season.cast.co_op.pk),
        "species": str(make_species().pk),
        "is_covered": True,
        "starts_on": "2026-06-01",
        "source": "Another list",
    }
    client = client_of(season.cast.staff)
    answer = client.post("/api/v1/trace-coverages", body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["code"] == "coverage-overlaps"
    body["starts_on"], body["farm"] = "2025-01-01", None
    stored = client.post("/api/v1/trace-coverages", {**body, "ends_on": "2025-12-31"})
    assert stored.status_code == 201
    assert stored.json()["created_by"] == str(season.cast.staff.pk)


# The sortable spreadsheet ------------------------------------------------------------------------


def records(client: APIClient, **query: Any) -> list[dict[str, Any]]:
    sent = {name: str(value) for name, value in query.items()}
    answer = client.get("/api/v1/trace-records", sent)
    assert answer.status_code == 200, answer.content
    found: list[dict[str, Any]] = answer.json()["results"]
    return found


def test_packing_is_told_in_its_elements_and_blanks_are_named(season: Season) -> None:
    found = records(client_of(season.cast.staff), lot=season.lot.pk, event="initial packing")
    ours = next(each for each in found if each["values"]["Quantity packed"] == 50)
    assert ours["values"] == {
        "Commodity and variety": "sugar apple, Ondrela",
        "Date received": "2026-09-10",
        "Quantity received": 60.0,
        "Unit of measure received": "kg",
        "Location description of the farm": "Hill growers, 0000 1, The long road 5",
        "Name of the field or growing area": "N1",
        "Harvester's business name": "Hill growers",
        "Harvester's phone": "0000 1",
        "Date of harvesting": "2026-09-10",
        "Location description of cooling": None,
        "Date of cooling": None,
        "Traceability lot code": "L-1",
        "Product description": "sugar apple, 5 kg cartons",
        "Quantity packed": 50.0,
        "Unit of measure packed": "kg",
        "Packages of the lot": None,
        "Package": None,
        "Location description of packing (lot code source)": "The co-op",
        "Date of packing": "2026-09-12",
        "Reference document type and number": "intake docket D1",
    }
    assert ours["missing"] == ["Location description of packing (lot code source) (phone, address)"]
    theirs = next(each for each in found if each["values"]["Quantity packed"] == 60)
    assert "Harvester's phone" in theirs["missing"]
    assert "Location description of the farm (phone, address)" in theirs["missing"]


def test_harvesting_names_the_recipient_and_the_reference_document(season: Season) -> None:
    [found] = records(client_of(season.cast.ours.owner), lot=season.lot.pk, event="harvesting")
    values = found["values"]
    assert values["Location description of the next recipient"] == "The co-op"
    assert values["Reference document type and number"] == "delivery docket D1"
    assert (values["Quantity"], values["Unit of measure"]) == (60.0, "kg")


def test_shipping_has_a_record_once_the_lot_was_shipped(season: Season) -> None:
    client = client_of(season.cast.staff)
    assert records(client, lot=season.lot.pk, event="shipping") == []
    season.lot.shipped_on, season.lot.shipped_to = PACKED, "A shop"
    save(season.lot)
    [found] = records(client, lot=season.lot.pk, event="shipping")
    assert found["values"]["Traceability lot code"] == "L-1"
    assert found["missing"] == [
        "Quantity",
        "Unit of measure",
        "Location description of the next recipient (phone and address)",
        "Location description of shipping (phone, address)",
        "Location description of the lot code source (phone, address)",
        "Reference document type and number",
    ]


def test_cooling_has_a_record_where_something_of_it_is_known(season: Season) -> None:
    Intake.objects.filter(pk=season.ours.intake.pk).update(cooled_on=PICKED)
    [found] = records(client_of(season.cast.staff), lot=season.lot.pk, event="cooling")
    assert found["values"]["Date of cooling"] == "2026-09-10"
    assert "Location description of cooling" in found["missing"]


def test_a_phone_number_is_not_shown_where_the_co_op_did_not_receive_the_fruit(
    season: Season,
) -> None:
    loose = pick(season.cast.ours, 7)
    [found] = records(client_of(season.cast.staff), harvest_weight=loose.pk)
    assert found["values"]["Harvester's phone"] is None
    assert found["values"]["Location description of the farm"] == "OURS"
    assert "Location description of the farm (not shared)" in found["missing"]
    app = client_with(season.cast.ours.farm, "records:read")
    [own] = records(app, harvest_weight=loose.pk)
    assert own["values"]["Harvester's phone"] == "0000 1"


def workbook(client: APIClient, **query: Any) -> Any:
    sent = {name: str(value) for name, value in query.items()}
    answer = client.get("/api/v1/trace-records", {**sent, "format": "xlsx"})
    assert answer.status_code == 200, answer.content
    return openpyxl.load_workbook(io.BytesIO(answer.content))


def test_the_workbook_has_a_sortable_sheet_an_event(season: Season) -> None:
    covered(season)
    days = {"packed_on_after": PACKED, "packed_on_before": PACKED}
    book = workbook(client_of(season.cast.staff), co_op=season.cast.co_op.pk, **days)
    assert book.sheetnames == ["harvesting", "initial packing", "about"]
    for name in book.sheetnames[:2]:
        sheet = book[name]
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert sheet.max_row == 3
        assert sheet.cell(1, sheet.max_column).value == "Missing"
    about = {row[0].value: row[1].value for row in book["about"].iter_rows()}
    assert "no legal advice" in about["No legal advice"]
    assert "for the business to decide" in about["No legal advice"]
    assert about["Coverage, sugar apple"].startswith("not covered on 2026-09-12, by COOP: The list")
    assert about["No sheet of shipping"] == "Nothing of it is recorded."


def test_a_csv_file_holds_one_event(season: Season) -> None:
    client = client_of(season.cast.staff)
    query = {"lot": str(season.lot.pk), "format": "csv"}
    assert client.get("/api/v1/trace-records", query).status_code == 422
    text = client.get("/api/v1/trace-records", {**query, "event": "harvesting"}).content.decode()
    heading, *rows = text.splitlines()
    assert heading.startswith("Location description of the next recipient,Commodity and variety")
    assert len(rows) == 2


def test_no_lot_of_those_days_is_an_empty_answer(season: Season) -> None:
    days = {"packed_on_after": "2026-01-01", "packed_on_before": "2026-01-02"}
    client = client_of(season.cast.staff)
    assert records(client, co_op=season.cast.co_op.pk, **days) == []
    answer = client.get("/api/v1/trace-records", {"co_op": str(season.cast.co_op.pk)})
    assert answer.status_code == 422


def test_a_long_trace_costs_as_many_queries_as_a_short_one(
    season: Season, django_assert_num_queries: Any
) -> None:
    """Who asks (4), the lot and its lines, the walk, five kinds of record, farms, coverage."""
    client = client_of(season.cast.staff)
    more = [pick(season.cast.ours, 1) for _ in range(20)]
    for count in (1, 21):
        with django_assert_num_queries(14):
            found = trace(client, lot=season.lot.pk)
        weighings = [node for node in found["results"] if node["kind"] == "harvest-weight"]
        assert len(weighings) == count + 1
        save(season.ours.delivery, weights=[season.ours.weight, *more])
