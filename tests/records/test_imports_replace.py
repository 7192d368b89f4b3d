"""A later file replaces a span of dates: what is gone is retired, once the sender has seen it."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from records.choices import ImportState
from records.models import (
    Block,
    HarvestImport,
    HarvestWeight,
    HarvestWeightTree,
    ProposedChange,
    SeasonStart,
)
from records.services import saving
from records.services.imports import receive
from records.services.undoing import KEPT_BY_DATABASE, undo
from tests.cast import Place, make_cast
from tests.records.sending import bring_in, counts, csv_of, details, problems, send, weights

pytestmark = pytest.mark.django_db

HEADINGS = ["Date", "Block", "Grade", "Kilos"]
SEASON = [
    HEADINGS,
    ["2026-09-07", "N1", "A", 20],
    ["2026-09-09", "N1", "A", 10],
    ["2026-09-09", "N1", "C", 3],
    ["2026-09-14", "N1", "A", 8],
]
# Of the week from the 7th: one the same, one changed, one gone, one new.
WEEK = [
    HEADINGS,
    ["2026-09-07", "N1", "A", 20],
    ["2026-09-09", "N1", "A", 11],
    ["2026-09-11", "N1", "A", 5],
]


@pytest.fixture
def ours() -> Place:
    return make_cast().ours


def standing(place: Place) -> list[tuple[Any, ...]]:
    rows = HarvestWeight.objects.filter(farm=place.farm, retired_on=None)
    return sorted(rows.values_list("picked_on__day", "grade__code", "net_g"), key=str)


def proposed(sent: HarvestImport) -> list[tuple[Any, ...]]:
    rows = ProposedChange.objects.filter(harvest_import=sent).order_by("pk")
    return [
        (
            one.kind,
            one.row,
            (one.before or {}).get("weight"),
            (one.after or {}).get("weight"),
        )
        for one in rows
    ]


def replace(place: Place, rows: Any = WEEK, **options: Any) -> HarvestImport:
    return send(place.farm, rows, replaces=True, **options)


def confirmed(sent: HarvestImport, **options: Any) -> HarvestImport:
    """Read again as the sender asks for it."""
    for name, value in {"dry_run": False, **options}.items():
        setattr(sent, name, value)
    sent.state = ImportState.RECEIVED
    sent.save()
    return bring_in(sent)


def test_a_replacement_is_shown_before_it_lands(ours: Place) -> None:
    send(ours.farm, SEASON)
    before = standing(ours)
    sent = replace(ours)
    assert (sent.state, sent.dry_run) == (ImportState.CHECKED, True)
    assert (counts(sent), sent.rows_retired) == ((1, 1, 1, 0), 1)
    assert sent.found is not None
    assert (sent.found["replaces_from"], sent.found["replaces_until"]) == (
        "2026-09-07",
        "2026-09-11",
    )
    assert sent.explanation == (
        "Of 3 rows: 1 added, 1 changed, 1 unchanged, 1 gone and retired, 0 refused. "
        "Nothing was written yet: look at the changes, then have them land with dry_run=false."
    )
    assert proposed(sent) == [
        ("changed", 3, 10, 11),
        ("added", 4, None, 5),
        ("gone", None, 3, None),
    ]
    assert standing(ours) == before


def test_what_was_shown_lands_when_it_is_confirmed(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = confirmed(replace(ours))
    assert (sent.state, counts(sent), sent.rows_retired) == (ImportState.LANDED, (1, 1, 1, 0), 1)
    assert sent.explanation == (
        "Of 3 rows: 1 added, 1 changed, 1 unchanged, 1 gone and retired, 0 refused."
    )
    assert standing(ours) == [
        (11, "A", 5_000),
        (14, "A", 8_000),  # of another week
        (7, "A", 20_000),
        (9, "A", 11_000),
    ]
    gone = HarvestWeight.objects.get(net_g=3_000)
    assert (gone.retired_on, gone.version) == (dt.date(2026, 10, 31), 2)


def test_a_replacement_may_name_its_days(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = replace(ours, replaces_from="2026-09-07", replaces_until="2026-09-20")
    assert sent.rows_retired == 2
    assert [kind for kind, *_ in proposed(sent)] == ["changed", "added", "gone", "gone"]
    confirmed(sent)
    assert standing(ours) == [(11, "A", 5_000), (7, "A", 20_000), (9, "A", 11_000)]


def test_a_row_outside_the_named_days_is_refused_with_its_cell(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = replace(ours, replaces_from="2026-09-08", replaces_until="2026-09-13")
    assert (sent.state, sent.rows_retired) == (ImportState.REFUSED, 0)
    assert problems(sent) == [(2, "Date", "outside-span", "2026-09-07")]
    assert details(sent) == [
        "The file replaces 2026-09-08 to 2026-09-13, and this is dated outside of it."
    ]
    assert proposed(sent) == []


def test_a_day_that_is_a_heading_is_named_when_it_lies_outside(ours: Place) -> None:
    ours.farm.weight_unit = "kg"
    ours.farm.save()
    rows = [["Block", "2026-09-07", "2026-09-10"], ["N1", 20, 3]]
    sent = replace(ours, rows, replaces_from="2026-09-08")
    assert problems(sent) == [(2, "2026-09-07", "outside-span", "2026-09-07")]


def test_nothing_is_gone_while_a_row_is_refused(ours: Place) -> None:
    """A row that cannot be read may be any of those that seem to be gone."""
    send(ours.farm, SEASON)
    sent = replace(ours, [*WEEK, ["2026-09-09", "N1", "C", "three"]])
    assert (sent.state, counts(sent), sent.rows_retired) == (ImportState.REFUSED, (0, 0, 1, 1), 0)
    assert sent.explanation.endswith("Correct them; a replacement needs every row.")
    assert proposed(sent) == []


@pytest.mark.parametrize(
    "options",
    [
        {"replaces": True, "on_problem": "skip"},
        {"replaces_from": "2026-09-07"},
        {"replaces": True, "replaces_from": "2026-09-07", "replaces_until": "2026-09-06"},
        {"replaces": True, "kind": "intakes"},
    ],
)
def test_options_that_do_not_go_together_are_refused(ours: Place, options: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError):
        receive(farm=ours.farm, file_name="a.csv", content=csv_of(WEEK), **options)


def test_a_replacement_without_any_weighing_must_name_its_days(ours: Place) -> None:
    ours.farm.weight_unit = "kg"
    ours.farm.save()
    send(ours.farm, SEASON)
    empty = [["Date", "Block", "A", "C"], ["2026-09-07", "N1", "", "-"]]
    sent = replace(ours, empty)
    assert (sent.state, problems(sent)) == (ImportState.REFUSED, [(0, "", "no-rows", "")])
    sent = replace(ours, empty, replaces_from="2026-09-07", replaces_until="2026-09-07")
    assert (sent.state, proposed(sent)) == (ImportState.CHECKED, [("gone", None, 20, None)])


# Confirming --------------------------------------------------------------------------------------


def test_reading_again_without_confirming_shows_again(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = confirmed(replace(ours), dry_run=True)
    assert sent.state == ImportState.CHECKED
    assert len(proposed(sent)) == 3


def test_an_edit_meanwhile_is_shown_before_it_is_overwritten(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = replace(ours)
    edited = HarvestWeight.objects.get(net_g=3_000)
    edited.note = "the scale was wrong"
    saving.save(edited)
    again = confirmed(sent)
    assert (again.state, again.dry_run) == (ImportState.CHECKED, True)
    assert again.explanation.endswith("They are not those that were shown before.")
    assert "Edited since they came in: 1 of the weighings concerned." in again.explanation
    [gone] = ProposedChange.objects.filter(harvest_import=again, kind="gone")
    assert gone.was_edited
    assert gone.before is not None
    assert gone.before["note"] == "the scale was wrong"
    assert confirmed(again).state == ImportState.LANDED


def test_an_edit_of_what_stays_as_it_is_needs_no_second_look(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = replace(ours)
    untouched = HarvestWeight.objects.get(net_g=20_000)
    untouched.note = "by the gate"
    saving.save(untouched)
    assert confirmed(sent).state == ImportState.LANDED
    untouched.refresh_from_db()
    assert untouched.note == "by the gate"


def test_another_file_that_landed_meanwhile_is_shown(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = replace(ours)
    send(ours.farm, [HEADINGS, ["2026-09-08", "N1", "A", 1]])
    again = confirmed(sent)
    assert (again.state, again.rows_retired) == (ImportState.CHECKED, 2)


def test_an_option_that_changes_what_would_land_is_shown_first(ours: Place) -> None:
    send(ours.farm, SEASON)
    again = confirmed(replace(ours), replaces_until="2026-09-20")
    assert (again.state, again.rows_retired) == (ImportState.CHECKED, 2)


def test_the_same_replacement_again_changes_nothing(ours: Place) -> None:
    send(ours.farm, SEASON)
    confirmed(replace(ours))
    again = replace(ours)
    assert (again.state, proposed(again)) == (ImportState.CHECKED, [])
    assert counts(confirmed(again)) == (0, 0, 3, 0)


# What is left alone ------------------------------------------------------------------------------


def test_what_came_in_another_way_is_left_alone(ours: Place) -> None:
    send(ours.farm, SEASON)
    by_hand = HarvestWeight(
        farm=ours.farm, block=ours.block, picked_on=dt.date(2026, 9, 9), weight=Decimal(3)
    )
    by_hand.unit = "kg"
    saving.save(by_hand)
    send(ours.farm, SEASON, series="of the other scale")
    confirmed(replace(ours))
    left = HarvestWeight.objects.filter(net_g=3_000, retired_on=None)
    assert left.count() == 2


def test_a_file_in_another_layout_replaces_only_what_is_gone(ours: Place) -> None:
    ours.farm.weight_unit = "kg"
    ours.farm.save()
    send(ours.farm, [["Line", *HEADINGS], *([n, *row] for n, row in enumerate(SEASON[1:]))])
    wide = [["Date", "Block", "A", "C"], ["2026-09-07", "N1", 20, ""], ["2026-09-09", "N1", 11, ""]]
    sent = replace(ours, wide)
    assert proposed(sent) == [("changed", 3, 10, 11), ("gone", None, 3, None)]


# Undo --------------------------------------------------------------------------------------------


def content(place: Place) -> list[tuple[Any, ...]]:
    columns = [
        field.attname
        for field in HarvestWeight._meta.concrete_fields
        if field.attname not in KEPT_BY_DATABASE - {"id"}
    ]
    rows = HarvestWeight.objects.filter(farm=place.farm).order_by("pk").values_list(*columns)
    links = HarvestWeightTree.objects.filter(farm=place.farm).values_list("weight_id", "tree_id")
    return [*rows, *sorted(links)]


def test_what_was_retired_comes_back(ours: Place) -> None:
    first = send(ours.farm, SEASON)
    edited = HarvestWeight.objects.get(net_g=3_000)
    edited.note = "kept"
    saving.save(edited, trees=[ours.tree])
    before = content(ours)
    sent = confirmed(replace(ours))
    assert content(ours) != before
    undo(sent)
    assert content(ours) == before
    assert len(weights(ours.farm)) == len(SEASON) - 1
    edited.refresh_from_db()
    assert (edited.retired_on, edited.harvest_import) == (None, first)


# Seasons that have ended -------------------------------------------------------------------------


def test_a_row_of_a_season_that_has_ended_is_refused_with_its_cell(ours: Place) -> None:
    sent = replace(ours, [HEADINGS, ["2025-12-30", "N1", "A", 20], ["2026-01-02", "N1", "A", 10]])
    assert (sent.state, problems(sent)) == (
        ImportState.REFUSED,
        [(2, "Date", "season-ended", "2025-12-30")],
    )
    assert details(sent) == [
        "A replacement cannot touch a season that has ended, and this is dated before the running "
        "one, which began on 2026-01-01."
    ]


def test_nothing_of_a_season_that_has_ended_is_retired(ours: Place) -> None:
    send(ours.farm, [HEADINGS, ["2025-12-30", "N1", "A", 20]])
    sent = replace(
        ours, [HEADINGS, ["2026-01-02", "N1", "A", 10]], replaces_from=dt.date(2025, 12, 1)
    )
    assert sent.state == ImportState.REFUSED
    assert sent.explanation == (
        "A replacement cannot touch a season that has ended. The span has weighings of one that "
        "the file no longer has: 1 of them, the first of 2025-12-30. "
        "Let the span begin on 2026-01-01 or later."
    )
    assert proposed(sent) == []


def test_a_block_with_seasons_of_its_own_is_judged_by_them(ours: Place) -> None:
    later = Block.objects.create(farm=ours.farm, code="S1")
    SeasonStart.objects.create(
        farm=ours.farm, block=later, applies_from=dt.date(2025, 1, 1), month=10
    )
    rows = [HEADINGS, ["2026-09-30", "N1", "A", 20], ["2026-09-30", "S1", "A", 10]]
    assert problems(replace(ours, rows)) == [(3, "Date", "season-ended", "2026-09-30")]


def test_an_ordinary_file_may_reach_into_a_season_that_has_ended(ours: Place) -> None:
    assert counts(send(ours.farm, [HEADINGS, ["2025-12-30", "N1", "A", 20]])) == (1, 0, 0, 0)
