"""One file of a co-op, each row of the member that it names."""

import datetime as dt
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from records.choices import ImportState
from records.models import (
    CoOp,
    Farm,
    HarvestImport,
    HarvestWeight,
    ImportedChange,
    ImportProblem,
    Membership,
)
from records.services.imports import receive
from records.services.undoing import undo
from tests.cast import Cast, client_of, make_cast, make_place
from tests.records.sending import bring_in, counts, csv_of, details, problems, weights

HEADINGS = ["Farm", "Date", "Block", "Grade", "Kilos"]
ROWS = [
    HEADINGS,
    ["OURS", "2026-09-10", "N1", "A", 20],
    ["Farm HILL", "2026-09-10", "N1", "A", 30],
    ["ours", "2026-09-11", "N1", "", 5],
]


@pytest.fixture
def cast(committed: None) -> Cast:
    cast = make_cast()
    Membership.objects.update(staff_may_edit=True)
    return cast


@pytest.fixture
def hill(cast: Cast) -> Any:
    place = make_place("HILL")
    Membership.objects.create(
        co_op=cast.co_op, farm=place.farm, starts_on=dt.date(2026, 1, 1), staff_may_edit=True
    )
    return place


def send_for(co_op: CoOp, rows: Any, **options: Any) -> HarvestImport:
    options = {"unit": "kg", **options}
    received = receive(co_op=co_op, file_name="all.csv", content=csv_of(rows), **options)
    return bring_in(received)


def test_each_row_becomes_a_weighing_of_the_farm_that_it_names(cast: Cast, hill: Any) -> None:
    sent = send_for(cast.co_op, ROWS)
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (3, 0, 0, 0))
    assert [w.net_g for w in weights(cast.ours.farm)] == [20_000, 5_000]
    (of_hill,) = weights(hill.farm)
    assert (of_hill.block, of_hill.grade, of_hill.net_g) == (hill.block, hill.grade, 30_000)
    assert set(ImportedChange.objects.values_list("farm__code", flat=True)) == {"OURS", "HILL"}
    ticks = HarvestWeight.objects.values_list("tick", flat=True)
    assert None not in ticks


def test_the_file_again_changes_nothing_and_a_corrected_one_just_its_rows(
    cast: Cast, hill: Any
) -> None:
    send_for(cast.co_op, ROWS)
    assert counts(send_for(cast.co_op, ROWS)) == (0, 0, 3, 0)
    lined = [["Line", *HEADINGS], *([n, *row] for n, row in enumerate(ROWS[1:], start=1))]
    assert counts(send_for(cast.co_op, lined, series="lined")) == (3, 0, 0, 0)
    lined[2][-1] = 31
    assert counts(send_for(cast.co_op, lined, series="lined")) == (0, 1, 2, 0)


def test_undoing_takes_the_rows_of_all_farms_back(cast: Cast, hill: Any) -> None:
    sent = send_for(cast.co_op, ROWS)
    assert undo(sent).state == ImportState.UNDONE
    assert not HarvestWeight.objects.exists()


REFUSED = [
    # what the first cell names, the column, the code of the problem
    ("NEXT", "Farm", "no-member"),  # a farm, but of nobody's co-op
    ("HILLS", "Farm", "no-member"),  # misspelled, or renamed meanwhile
    ("", "Farm", "farm-missing"),
]


@pytest.mark.parametrize(("word", "column", "code"), REFUSED)
def test_a_row_of_no_member_is_refused_by_its_word(
    cast: Cast, hill: Any, word: str, column: str, code: str
) -> None:
    rows = [*ROWS, [word, "2026-09-12", "N1", "", 8]]
    sent = send_for(cast.co_op, rows)
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    assert problems(sent) == [(5, column, code, word)]
    assert not HarvestWeight.objects.exists()
    if code == "no-member":
        assert f"called {word}" in details(sent)[0]


def test_a_member_renamed_or_gone_mid_season_is_told_per_row(cast: Cast, hill: Any) -> None:
    Farm.objects.filter(pk=hill.farm.pk).update(code="CLIFF", name="Farm Cliff")
    Membership.objects.filter(farm=cast.ours.farm).update(ends_on=dt.date(2026, 9, 10))
    sent = send_for(cast.co_op, ROWS, on_problem="skip")
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (1, 0, 0, 2))
    assert problems(sent) == [
        (3, "Farm", "no-member", "Farm HILL"),
        (4, "Date", "outside-membership", "2026-09-11"),
    ]
    assert "farm ours was no member" in details(sent)[1]


def test_a_member_whose_terms_do_not_let_staff_write_is_refused(cast: Cast, hill: Any) -> None:
    Membership.objects.filter(farm=hill.farm).update(staff_may_edit=False)
    sent = send_for(cast.co_op, ROWS, on_problem="skip")
    assert problems(sent) == [(3, "Date", "outside-membership", "2026-09-10")]


def test_a_farms_own_file_still_refuses_rows_of_others(cast: Cast, hill: Any) -> None:
    received = receive(
        farm=cast.ours.farm, file_name="a.csv", content=csv_of(ROWS), unit="kg", on_problem="skip"
    )
    sent = bring_in(received)
    assert problems(sent) == [(3, "Farm", "other-farm", "Farm HILL")]


def test_answers_are_kept_for_the_co_ops_next_file(cast: Cast, hill: Any) -> None:
    assert send_for(cast.co_op, ROWS, unit="").state == ImportState.LANDED  # Kilos names it
    bare = [[*HEADINGS[:-1], "Weight"], *ROWS[1:]]
    asked = send_for(cast.co_op, bare, unit="", series="bare")
    assert [one["setting"] for one in asked.questions] == ["unit"]
    assert send_for(cast.co_op, bare, series="bare", remember=True).state == ImportState.LANDED
    assert send_for(cast.co_op, bare, unit="", series="bare").state == ImportState.LANDED


def test_the_file_is_the_co_ops_and_no_members(cast: Cast, hill: Any) -> None:
    send_for(cast.co_op, [*ROWS, ["NEXT", "2026-09-12", "N1", "", 8]], on_problem="skip")
    staff, owner = client_of(cast.staff), client_of(cast.ours.owner)
    (shown,) = staff.get("/api/v1/harvest-imports").json()["results"]
    assert (shown["farm"], shown["co_op"]) == (None, str(cast.co_op.pk))
    address = f"/api/v1/harvest-imports/{shown['id']}"
    assert len(staff.get(f"{address}/problems").json()["results"]) == 1
    assert owner.get("/api/v1/harvest-imports").json()["results"] == []
    assert owner.get(address).status_code == 404
    assert ImportProblem.objects.get().farm is None


def post(client: Any, rows: Any, **form: Any) -> Any:
    file = SimpleUploadedFile("all.csv", csv_of(rows))
    return client.post("/api/v1/harvest-imports", {"file": file, **form}, format="multipart")


def test_staff_send_it_by_the_api_and_others_may_not(cast: Cast, hill: Any) -> None:
    co_op = str(cast.co_op.pk)
    answer = post(client_of(cast.staff), ROWS, co_op=co_op, unit="kg")
    assert answer.status_code == 202, answer.content
    assert answer.json()["rows_landed"] == 0
    assert post(client_of(cast.ours.owner), ROWS, co_op=co_op).status_code == 403
    assert post(client_of(cast.neighbour.owner), ROWS, co_op=co_op).status_code in {403, 422}
    neither = post(client_of(cast.staff), ROWS)
    assert neither.status_code == 422
    both = post(client_of(cast.staff), ROWS, co_op=co_op, farm=str(cast.ours.farm.pk))
    assert both.status_code in {400, 422}


@pytest.mark.parametrize("options", [{"replaces": True}, {"kind": "intakes"}])
def test_what_is_of_one_farm_alone_is_refused_for_many(cast: Cast, options: Any) -> None:
    answer = post(client_of(cast.staff), ROWS, co_op=str(cast.co_op.pk), **options)
    assert answer.status_code == 422
