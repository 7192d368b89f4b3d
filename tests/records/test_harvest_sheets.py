"""What is written as a sheet of weighings is read back as the same weighings."""

import csv
import datetime as dt
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.models import Block, Container, Crop, Farm, FarmRole, Grade, HarvestWeight, Tree
from records.services.saving import save
from tests.cast import Cast, Place, client_of, client_with, make_cultivar, make_place
from tests.records.sending import counts, problems, send, weights

SHEET = "/api/v1/harvest-weights/sheet"
DAY = dt.date(2026, 9, 10)

CODES = ("7", "007", "+1", "@home", "Encosta, alta", "'=B", "-", "1/2")
codes = st.sampled_from(CODES)
numbers = st.sampled_from(["", "1.234", "=D1", "'=1", "''-2", "-", "+7", "é 7"])
remarks = st.sampled_from(
    ["", "total", "1.234", "=SUM(A1)", "'=1", "''-2", "'quoted'", "-", "a; b", 'said "wet"', "é"]
)
names = st.sampled_from(["Ana", "Costa, Eva", "=Rui", "'+Íris", "O'Neil", "A/B"])
amounts = st.integers(10_000, 40_000_000).map(
    lambda tenths: Decimal(tenths).scaleb(-4)
) | st.integers(1, 4_000).map(Decimal)

weighings = st.fixed_dictionaries(
    {
        "picked_on": st.dates(dt.date(2026, 4, 1), dt.date(2026, 10, 30)),
        "block": codes,
        "tree": st.none() | st.integers(1, 3),
        "cultivar": st.none() | st.sampled_from(["Brumel", "=Ondrela"]),
        "grade": st.none() | codes,
        "crop": st.none() | st.sampled_from(["second", "=late"]),
        "scale": st.none()
        | st.fixed_dictionaries(
            {
                "weight": amounts,
                "unit": st.sampled_from(["kg", "g", "lb", "oz"]),
                "weight_kind": st.sampled_from(["gross", "net"]),
            }
        ),
        "tare_g": st.none() | st.just(0),
        "containers": st.none() | st.integers(1, 9),
        "container": st.none() | codes,
        "fruit_count": st.integers(1, 900),
        "docket": numbers,
        "ticket": numbers,
        "pickers": st.lists(names, max_size=3, unique=True),
        "minutes": st.none() | st.sampled_from([45, 2_000]),
        "note": remarks,
    }
)


def furnish(farm: Farm) -> None:
    """One of everything that the weighings above name."""
    for code in CODES:
        block = Block.objects.create(farm=farm, code=code)
        Grade.objects.create(farm=farm, code=code, is_marketable=True)
        # A container of no weight, so that no weighing is lighter than what it was weighed in.
        Container.objects.create(farm=farm, code=code, tare_g=0)
        for name in ("second", "=late"):
            opened = {"opened_by": "pruning", "opened_on": dt.date(2026, 3, 3)}
            Crop.objects.create(farm=farm, block=block, name=name, **opened)
        for number in range(1, 4):
            # One with a label that looks like a formula, and one without a label.
            label = {1: "=T1", 2: "", 3: "T3"}[number]
            Tree.objects.create(farm=farm, block=block, row=1, position=number, number=label)


def store(farm: Farm, said: dict[str, Any]) -> HarvestWeight:
    block = Block.objects.get(farm=farm, code=said["block"])
    crop = said["crop"] and Crop.objects.get(block=block, name=said["crop"])
    plain = ("picked_on", "tare_g", "containers", "fruit_count", "docket", "ticket", "pickers")
    weight = HarvestWeight(
        farm=farm,
        block=block,
        entered_cultivar=said["cultivar"] and make_cultivar(said["cultivar"]),
        grade=said["grade"] and Grade.objects.get(farm=farm, code=said["grade"]),
        container=said["container"] and Container.objects.get(farm=farm, code=said["container"]),
        crop=crop,
        crop_chosen_by="person" if crop else "date",
        minutes=said["minutes"],
        note=said["note"],
        **(said["scale"] or {}),
        **{name: said[name] for name in plain},
    )
    trees = Tree.objects.filter(block=block, position=said["tree"] or 0)
    stored: HarvestWeight = save(weight, trees=list(trees))
    return stored


def as_told(farm: Farm) -> list[dict[str, Any]]:
    """A farm's weighings field by field, by codes."""
    found = HarvestWeight.objects.filter(farm=farm).prefetch_related("trees").order_by("pk")
    plain = (
        *("picked_on", "weight", "unit", "tare_g", "net_g", "containers", "fruit_count"),
        *("docket", "ticket", "pickers", "minutes", "note", "crop_chosen_by", "cultivar_id"),
        *("entered_cultivar_id", "estimated_from_containers_g"),
    )
    return [
        {
            **{name: getattr(each, name) for name in plain},
            # Of what was not weighed it says nothing.
            "weight_kind": each.weight_kind if each.weight else "",
            "block": each.block.code,
            "grade": each.grade and each.grade.code,
            "container": each.container and each.container.code,
            "crop": each.crop and each.crop.name,
            "trees": [tree.position for tree in each.trees.all()],
        }
        for each in found
    ]


def sheet(place: Place, form: str = "csv") -> bytes:
    query = {"farm": str(place.farm.pk), "format": form}
    answer = client_of(place.owner).get(SHEET, query)
    assert answer.status_code == 200, answer.content
    content: bytes = answer.content
    return content


def lines(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(content.decode())))


@pytest.fixture
def old_and_fresh(db: None) -> tuple[Place, Place]:
    """Two farms with the same codes, and of the same name to whoever reads a file for them."""
    old, fresh = make_place("OLD"), make_place("FRESH")
    for place in (old, fresh):
        furnish(place.farm)
    fresh.farm.name = old.farm.code
    fresh.farm.save()
    return old, fresh


@pytest.mark.parametrize("form", ["csv", "xlsx"])
@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(said=st.lists(weighings, min_size=1, max_size=6))
def test_a_sheet_is_read_back_without_a_question(
    form: str, said: list[dict[str, Any]], old_and_fresh: tuple[Place, Place]
) -> None:
    old, fresh = old_and_fresh
    with transaction.atomic():
        for each in said:
            store(old.farm, each)
        sent = send(fresh.farm, sheet(old, form), file_name=f"harvest.{form}")
        assert (sent.state, problems(sent)) == ("landed", []), sent.explanation
        assert counts(sent) == (len(said), 0, 0, 0)
        assert as_told(fresh.farm) == as_told(old.farm)
        again = send(fresh.farm, sheet(old, form), file_name="again.csv", on_problem="reject")
        assert counts(again) == (0, 0, len(said), 0)
        transaction.set_rollback(True)


def picked(place: Place, **values: Any) -> HarvestWeight:
    trees = values.pop("trees", [])
    stored: HarvestWeight = save(
        HarvestWeight(
            **{
                "farm": place.farm,
                "block": place.block,
                "picked_on": DAY,
                "weight": Decimal("12.5"),
                "unit": "kg",
                **values,
            }
        ),
        trees=trees,
    )
    return stored


def test_trees_of_a_weighing_of_several_stand_beside_it_and_are_not_read(cast: Cast) -> None:
    other = Tree.objects.create(
        farm=cast.ours.farm, block=cast.ours.block, row=1, position=2, number="T2"
    )
    picked(cast.ours, trees=[cast.ours.tree, other])
    (line,) = lines(sheet(cast.ours))
    assert (line["Tree"], line["Row"], line["Trees left out"]) == ("", "", "1/1; T2")
    sent = send(cast.ours.farm, sheet(cast.ours))
    assert (counts(sent), problems(sent)) == ((1, 0, 0, 0), [])
    assert [each.trees.count() for each in weights(cast.ours.farm)] == [2, 0]


def test_what_was_retired_is_left_out(cast: Cast) -> None:
    picked(cast.ours, retired_on=DAY)
    assert lines(sheet(cast.ours)) == []


def test_a_crop_that_the_dates_chose_is_not_named(cast: Cast) -> None:
    stored = picked(cast.ours)
    assert stored.crop_id == cast.ours.crop.pk
    assert lines(sheet(cast.ours))[0]["Crop"] == ""


def test_three_decimals_never_stand_alone(cast: Cast) -> None:
    """1.234 could be a thousand and more; such a file would be asked about."""
    picked(cast.ours, weight=Decimal("1.234"))
    assert lines(sheet(cast.ours))[0]["Gross"] == "1.2340"


def test_kilos_stay_when_the_container_has_another_tare_by_now(cast: Cast) -> None:
    crate = cast.ours.container
    stored = picked(cast.ours, containers=2, container=crate)
    crate.tare_g += 500
    crate.save()
    send(cast.ours.farm, sheet(cast.ours))
    assert [each.net_g for each in weights(cast.ours.farm)] == [stored.net_g] * 2


def test_what_came_by_file_is_known_again_in_its_series_only(cast: Cast) -> None:
    send(cast.ours.farm, [["Date", "Block", "Kg"], ["2026-09-10", "N1", "12.5"]])
    content = sheet(cast.ours)
    assert counts(send(cast.ours.farm, content)) == (0, 0, 1, 0)
    assert counts(send(cast.ours.farm, content, series="another")) == (1, 0, 0, 0)


def test_what_was_entered_by_hand_is_added_again(cast: Cast) -> None:
    """It came by no file, so that no line of one stands for it."""
    picked(cast.ours)
    content = sheet(cast.ours)
    assert counts(send(cast.ours.farm, content)) == (1, 0, 0, 0)
    assert HarvestWeight.objects.count() == 2


def test_another_farms_weighings_are_not_in_it(cast: Cast) -> None:
    picked(cast.neighbour)
    picked(cast.ours)
    for person in (cast.ours.owner, cast.staff):
        found = lines(client_of(person).get(SHEET, {"format": "csv"}).content)
        assert [line["Farm"] for line in found] == ["OURS"]


def test_a_harvest_share_shows_no_pickers_minutes_or_note(cast: Cast) -> None:
    picked(cast.ours, pickers=["Ana"], minutes=30, note="wet")
    answer = client_of(cast.staff).get(SHEET, {"format": "csv"})
    assert {"Pickers", "Minutes", "Note"}.isdisjoint(lines(answer.content)[0])
    own = lines(sheet(cast.ours))[0]
    assert (own["Pickers"], own["Minutes"], own["Note"]) == ("Ana;", "30", "wet")


def test_beside_full_rights_withheld_cells_are_empty(cast: Cast) -> None:
    """Of someone with a farm of their own who also works for a co-op."""
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.staff, role="owner")
    picked(cast.ours, note="ours", pickers=["Ana"], minutes=30)
    picked(cast.neighbour, note="theirs")
    found = lines(client_of(cast.staff).get(SHEET, {"format": "csv"}).content)
    assert {line["Farm"]: line["Note"] for line in found} == {"OURS": "", "NEXT": "theirs"}
    assert {line["Pickers"] + line["Minutes"] for line in found} == {""}


def test_the_lists_filters_hold_and_others_are_refused(cast: Cast) -> None:
    picked(cast.ours, docket="D1")
    picked(cast.ours, docket="D2")
    client = client_of(cast.ours.owner)
    found = lines(client.get(SHEET, {"format": "csv", "docket": "D2"}).content)
    assert [line["Docket"] for line in found] == ["D2"]
    assert client.get(SHEET, {"format": "csv", "dock": "D2"}).status_code == 400


def test_an_app_needs_the_scope_of_the_harvest(cast: Cast) -> None:
    for scope, status in (("harvest:read", 200), ("schedule:read", 403)):
        answer = client_with(cast.ours.farm, scope).get(SHEET, {"format": "csv"})
        assert answer.status_code == status


def test_too_many_rows_are_refused_with_what_to_do(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("records.api.harvest.MAX_TABLE_ROWS", 1)
    for _ in range(2):
        picked(cast.ours)
    answer = client_of(cast.ours.owner).get(SHEET, {"format": "csv"})
    assert (answer.status_code, answer.json()["code"]) == (422, "rule-broken")
