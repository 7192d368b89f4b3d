"""Every list and page answers, for whoever may come in, at a cost that does not grow."""

import pytest
from django.db import connection
from django.db.models import Model
from django.test import Client
from django.test.utils import CaptureQueriesContext

from records.models import CoOpGrade, HarvestWeight, Tree
from tests.admin.conftest import enter
from tests.admin.pages import MODELS, add_to, list_of, page_of, row_of, text_of
from tests.cast import Cast

# What the service writes itself, and people only look at.
NEVER_ADDED = {
    "Alert",
    "Finding",
    "ClosedSeason",
    "HarvestImport",
    "ImportProblem",
    "Job",
    "NextTask",
    "ProposedChange",
    "SeasonSummary",
    "StageForecast",
    "Statement",
    "UndatedTask",
}

every_model = pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)


@every_model
def test_a_platform_admin_opens_every_list(admin: Client, cast: Cast, model: type[Model]) -> None:
    row_of(model, cast.ours)
    assert admin.get(list_of(model)).status_code == 200


@every_model
def test_every_list_can_be_searched(admin: Client, cast: Cast, model: type[Model]) -> None:
    row_of(model, cast.ours)
    found = admin.get(list_of(model), {"q": "nothing is called this"})
    assert found.status_code == 200
    assert found.context["cl"].result_count == 0


@every_model
def test_every_list_can_be_filtered_with_counts(
    admin: Client, cast: Cast, model: type[Model]
) -> None:
    row_of(model, cast.ours)
    query = {"_facets": "1"}
    if any(field.name == "farm" for field in model._meta.fields):
        query["farm__id__exact"] = str(cast.ours.farm.pk)
    answer = admin.get(list_of(model), query)
    assert answer.status_code == 200
    assert answer.context["cl"].has_filters


@every_model
def test_a_platform_admin_opens_every_page(admin: Client, cast: Cast, model: type[Model]) -> None:
    row = row_of(model, cast.ours)
    assert admin.get(page_of(row)).status_code == 200


@every_model
def test_only_what_people_enter_can_be_added(admin: Client, cast: Cast, model: type[Model]) -> None:
    expected = 403 if model.__name__ in NEVER_ADDED else 200
    assert admin.get(add_to(model)).status_code == expected


@every_model
def test_a_list_does_as_many_queries_for_ten_rows_as_for_one(
    cast: Cast, model: type[Model]
) -> None:
    row_of(model, cast.ours, 1)
    one = queries_of(enter(cast.admin), list_of(model))
    for number in range(2, 11):
        row_of(model, cast.ours, number)
    ten = queries_of(enter(cast.admin), list_of(model))
    assert len(ten) == len(one), "\n".join(ten)


def queries_of(client: Client, address: str) -> list[str]:
    client.get(address)  # whatever is done once a process
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return [query["sql"] for query in queries.captured_queries]


@every_model
def test_staff_of_a_co_op_open_every_list_they_are_offered(
    staff: Client, cast: Cast, model: type[Model]
) -> None:
    row_of(model, cast.ours)
    offered = list_of(model) in staff.get("/admin/").content.decode()
    assert staff.get(list_of(model)).status_code == (200 if offered else 403)


def test_the_admin_speaks_in_its_own_words(admin: Client) -> None:
    text = text_of(admin.get("/admin/"))
    assert "Orchard records" in text
    assert "Django" not in text


def test_lists_are_filtered_by_farm_and_then_by_block(admin: Client, cast: Cast) -> None:
    ours, theirs = cast.ours, cast.neighbour
    answer = admin.get(list_of(Tree), {"farm__id__exact": str(ours.farm.pk)})
    assert list(answer.context["cl"].result_list) == [ours.tree]
    offered = {spec.title: spec.lookup_choices for spec in answer.context["cl"].filter_specs[:2]}
    assert offered["block"] == [(ours.block.pk, "OURS N1")]
    assert theirs.farm.pk in {key for key, _ in offered["farm"]}


def test_a_farmer_with_one_farm_gets_to_the_blocks(owner: Client, cast: Cast) -> None:
    titles = [
        [spec.title for spec in owner.get(list_of(Tree), query).context["cl"].filter_specs]
        for query in ({}, {"farm__id__exact": str(cast.ours.farm.pk)})
    ]
    assert titles[0][:1] == ["farm"]
    assert titles[1][:2] == ["farm", "block"]


def test_links_offer_no_deleting(admin: Client, cast: Cast) -> None:
    page = admin.get(page_of(cast.ours.tree)).content.decode()
    assert "add_id_cultivar" in page
    assert "delete_id_cultivar" not in page


def test_lists_are_filtered_by_date(admin: Client, cast: Cast) -> None:
    row_of(HarvestWeight, cast.ours)
    found = admin.get(list_of(HarvestWeight), {"picked_on__year": 2026, "picked_on__month": 9})
    assert found.context["cl"].result_count == 1
    none = admin.get(list_of(HarvestWeight), {"picked_on__year": 2025})
    assert none.context["cl"].result_count == 0


def test_choices_tell_trees_of_different_blocks_apart(admin: Client, cast: Cast) -> None:
    answer = admin.get(
        "/admin/autocomplete/",
        {
            "term": "OURS 1",
            "app_label": "records",
            "model_name": "graft",
            "field_name": "tree",
        },
    )
    assert answer.json()["results"] == [{"id": str(cast.ours.tree.pk), "text": "OURS N1 1/1"}]


def test_a_grade_of_a_co_op_is_named_with_it(admin: Client, cast: Cast) -> None:
    grade = row_of(CoOpGrade, cast.ours)
    assert f"COOP {grade.code}" in text_of(admin.get(page_of(grade)))
