"""Saving in the admin obeys the rules, and says at the form what is wrong."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import Client

from records.choices import CropChoice
from records.models import (
    Block,
    CoOp,
    Crop,
    Farm,
    GradeMapping,
    HarvestWeight,
    Membership,
    PlantingLine,
    SeasonStart,
    Tree,
)
from records.services import saving
from tests.admin.conftest import enter
from tests.admin.pages import add_to, faults, page_of, row_of, sent, text_of
from tests.cast import Cast

SQUARE = (
    '{"type": "Polygon", "coordinates":'
    " [[[-17.0, 32.7], [-16.999, 32.7], [-16.999, 32.701], [-17.0, 32.701], [-17.0, 32.7]]]}"
)
CROSSED = (
    '{"type": "Polygon", "coordinates":'
    " [[[-17.0, 32.7], [-16.999, 32.701], [-16.999, 32.7], [-17.0, 32.701], [-17.0, 32.7]]]}"
)


def weigh(client: Client, cast: Cast, **values: Any) -> Any:
    """Send the form of a new weighing on our block: 30 kg in two crates of 1.5 kg, by default."""
    body = {
        "block": str(cast.ours.block.pk),
        "picked_on": "2026-09-10",
        "weight": "30",
        "unit": "kg",
        "containers": "2",
        "container": str(cast.ours.container.pk),
        **values,
    }
    return sent(client, add_to(HarvestWeight), **body)


# What follows --------------------------------------------------------------------------------


def test_a_weighing_gets_its_net_grams_cultivar_and_crop(admin: Client, cast: Cast) -> None:
    answer = weigh(admin, cast, picked_trees=[str(cast.ours.tree.pk)])
    assert answer.status_code == 302
    weight = HarvestWeight.objects.get()
    assert weight.farm == cast.ours.farm
    assert weight.net_g == 27_000
    assert weight.cultivar == cast.ours.tree.cultivar
    assert (weight.crop, weight.crop_chosen_by) == (cast.ours.crop, CropChoice.DATE)
    assert list(weight.trees.all()) == [cast.ours.tree]
    assert weight.created_by == cast.admin


def test_a_corrected_weighing_follows_anew_and_keeps_its_trees(admin: Client, cast: Cast) -> None:
    weigh(admin, cast, picked_trees=[str(cast.ours.tree.pk)])
    weight = HarvestWeight.objects.get()
    assert sent(admin, page_of(weight), weight="40").status_code == 302
    weight.refresh_from_db()
    assert (weight.net_g, weight.version) == (37_000, 2)
    assert list(weight.trees.all()) == [cast.ours.tree]


def test_trees_can_be_taken_off_a_weighing(admin: Client, cast: Cast) -> None:
    weigh(admin, cast, picked_trees=[str(cast.ours.tree.pk)])
    weight = HarvestWeight.objects.get()
    assert sent(admin, page_of(weight), picked_trees=[]).status_code == 302
    assert not weight.trees.exists()


def test_a_crop_that_a_person_chose_stays(admin: Client, cast: Cast) -> None:
    late = Crop.objects.create(
        farm=cast.ours.farm,
        block=cast.ours.block,
        name="late",
        opened_by="pruning",
        opened_on=dt.date(2026, 6, 1),
    )
    weigh(admin, cast, crop=str(late.pk))
    weight = HarvestWeight.objects.get()
    assert (weight.crop, weight.crop_chosen_by) == (late, CropChoice.PERSON)
    sent(admin, page_of(weight), crop="")
    weight.refresh_from_db()
    # Two crops can be picked on this day, so without a person's word there is none.
    assert (weight.crop, weight.crop_chosen_by) == (None, CropChoice.DATE)


def test_a_block_gets_the_area_of_its_outline(admin: Client, cast: Cast) -> None:
    answer = sent(
        admin,
        add_to(Block),
        farm=str(cast.ours.farm.pk),
        code="N2",
        area_m2="10400",
        boundary=SQUARE,
    )
    assert answer.status_code == 302
    block = Block.objects.get(code="N2")
    # A thousandth of a degree each way at 32.7 N: about 93.7 m by 110.9 m.
    assert block.boundary_area_m2 == pytest.approx(93.7 * 110.9, rel=0.005)


def test_a_tree_takes_the_farm_of_its_block(admin: Client, cast: Cast) -> None:
    answer = sent(admin, add_to(Tree), block=str(cast.ours.block.pk), row="1", position="2")
    assert answer.status_code == 302
    assert Tree.objects.get(position=2).farm == cast.ours.farm


def test_a_new_planting_line_tells_weighings_their_cultivar(admin: Client, cast: Cast) -> None:
    block = Block.objects.create(farm=cast.ours.farm, code="S1")
    weigh(admin, cast, block=str(block.pk))
    weight = HarvestWeight.objects.get()
    assert weight.cultivar is None
    cultivar = cast.ours.tree.cultivar
    sent(
        admin, add_to(PlantingLine), block=str(block.pk), cultivar=str(cultivar.pk), tree_count="9"
    )
    weight.refresh_from_db()
    assert weight.cultivar == cultivar


def test_something_odd_but_possible_is_saved_with_a_warning(admin: Client, cast: Cast) -> None:
    Tree.objects.filter(pk=cast.ours.tree.pk).update(removed_on=dt.date(2026, 1, 1))
    weigh(admin, cast, picked_trees=[str(cast.ours.tree.pk)])
    page = text_of(admin.get(page_of(HarvestWeight.objects.get())))
    assert "was removed on 2026-01-01, before this picking" in page


# What is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "field", "text"),
    [
        # Two crates of 1.5 kg on a scale that showed 2 kg.
        ({"weight": "2"}, "weight", "weigh more than the scale showed"),
        # A tare that was read.
        ({"tare_g": "31000"}, "tare_g", "weigh more than the scale showed"),
        # Negative.
        ({"weight": "-3"}, "weight", "greater than or equal to"),
        # Absurd.
        ({"weight": "9000"}, "weight", "at most 5000 kg"),
        # Tomorrow's fruit.
        ({"picked_on": "2199-01-01"}, "picked_on", "in the future"),
        # A unit without a weight.
        ({"weight": ""}, "__all__", "A weight needs a unit"),
        # Nothing at all.
        (
            {"weight": "", "unit": "", "containers": "", "container": ""},
            "__all__",
            "Give a weight, or a number of containers or fruit.",
        ),
        # A unit of another trade.
        ({"unit": "st"}, "unit", "not one of the available choices"),
    ],
)
def test_a_wrong_weighing_is_refused_at_the_form(
    admin: Client, cast: Cast, changes: dict[str, str], field: str, text: str
) -> None:
    found = faults(weigh(admin, cast, **changes))
    assert text in " ".join(found[field])
    assert not HarvestWeight.objects.exists()


@pytest.mark.parametrize(
    ("stands", "text"),
    [
        ("in another block", "Tree 1/1 stands in another block."),
        ("on another farm", "This belongs to another farm."),
    ],
)
def test_a_tree_from_elsewhere_is_refused_at_the_trees(
    admin: Client, cast: Cast, stands: str, text: str
) -> None:
    tree = cast.neighbour.tree
    if stands == "in another block":
        block = Block.objects.create(farm=cast.ours.farm, code="S2")
        tree = Tree.objects.create(farm=cast.ours.farm, block=block, row=1, position=1)
    assert faults(weigh(admin, cast, picked_trees=[str(tree.pk)])) == {"picked_trees": [text]}


@pytest.mark.parametrize("link", ["container", "crop", "grade"])
def test_a_link_into_another_farm_is_refused(admin: Client, cast: Cast, link: str) -> None:
    theirs = getattr(cast.neighbour, link)
    found = faults(weigh(admin, cast, **{link: str(theirs.pk)}))
    assert found == {link: ["This belongs to another farm."]}


def test_a_weighing_cannot_move_to_another_farm(admin: Client, cast: Cast) -> None:
    weight = row_of(HarvestWeight, cast.ours)
    found = faults(sent(admin, page_of(weight), block=str(cast.neighbour.block.pk)))
    assert found["block"] == ["This belongs to another farm."]


def test_two_trees_at_one_place_are_refused(admin: Client, cast: Cast) -> None:
    found = faults(sent(admin, add_to(Tree), block=str(cast.ours.block.pk), row="1", position="1"))
    assert found == {"__all__": ["Another tree stands at this place on these days."]}


def test_a_tree_is_replanted_after_a_removal(admin: Client, cast: Cast) -> None:
    Tree.objects.filter(pk=cast.ours.tree.pk).update(removed_on=dt.date(2024, 1, 1))
    answer = sent(
        admin,
        add_to(Tree),
        block=str(cast.ours.block.pk),
        row="1",
        position="1",
        planted_on="2024-02-01",
    )
    assert answer.status_code == 302
    assert Tree.objects.filter(block=cast.ours.block, row=1, position=1).count() == 2


def test_an_outline_that_crosses_itself_is_refused(admin: Client, cast: Cast) -> None:
    found = faults(sent(admin, page_of(cast.ours.block), boundary=CROSSED))
    assert list(found) == ["boundary"]


@pytest.mark.parametrize(
    ("model", "values"),
    [
        # The farm cannot be changed, and so is not in the form that the constraint is checked by.
        (Block, {"code": "N1"}),
        (SeasonStart, {"block": "", "applies_from": "2020-01-01"}),
    ],
)
def test_a_clash_over_fields_off_the_page_is_refused(
    admin: Client, cast: Cast, model: Any, values: dict[str, str]
) -> None:
    SeasonStart.objects.create(farm=cast.ours.farm, applies_from=dt.date(2020, 1, 1), month=3)
    row = row_of(model, cast.ours)
    assert "already exists" in " ".join(faults(sent(admin, page_of(row), **values))["__all__"])


def test_overlapping_memberships_are_refused_in_their_list(admin: Client, cast: Cast) -> None:
    body = {"co_op": str(cast.co_op.pk), "farm": str(cast.ours.farm.pk), "starts_on": "2025-01-01"}
    found = faults(sent(admin, add_to(Membership), **body))
    assert "on some of these days" in " ".join(found["__all__"])


def test_memberships_are_edited_within_a_co_op(admin: Client, cast: Cast) -> None:
    answer = sent(admin, page_of(cast.co_op), **{"memberships-0-shares": "all"})
    assert answer.status_code == 302
    cast.membership.refresh_from_db()
    assert cast.membership.shares == "all"


def new_memberships(farm: Farm, *starts: str) -> dict[str, str]:
    """Rows added below the one that is there."""
    body = {"memberships-TOTAL_FORMS": str(1 + len(starts))}
    for number, starts_on in enumerate(starts, start=1):
        row = {"farm": str(farm.pk), "starts_on": starts_on, "shares": "harvest"}
        body |= {f"memberships-{number}-{name}": value for name, value in row.items()}
    return body


def test_a_membership_added_within_a_co_op_must_not_overlap(admin: Client, cast: Cast) -> None:
    body = new_memberships(cast.ours.farm, "2025-01-01")
    answer = sent(admin, page_of(cast.co_op), **body)
    assert answer.status_code == 200
    assert "on some of these days" in text_of(answer)


def test_two_new_memberships_that_overlap_each_other_are_refused(admin: Client, cast: Cast) -> None:
    body = new_memberships(cast.neighbour.farm, "2025-01-01", "2025-06-01")
    answer = sent(admin, page_of(cast.co_op), **body)
    assert "membership once at a time" in " ".join(faults(answer)["__all__"])
    assert Membership.objects.filter(co_op=cast.co_op).count() == 1


def test_what_only_the_database_notices_is_a_fault_of_the_form(
    admin: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when two people save the same at the same moment."""

    def clash(record: Any, **options: Any) -> None:
        raise IntegrityError("two at once")

    monkeypatch.setattr(saving, "save", clash)
    found = faults(sent(admin, page_of(cast.ours.block), name="North"))
    assert "Not saved" in " ".join(found["__all__"])


def test_a_grade_is_mapped_within_its_farm(admin: Client, cast: Cast) -> None:
    mapping = row_of(GradeMapping, cast.ours)
    assert sent(admin, page_of(mapping), applies_from="2026-03-01").status_code == 302
    mapping.refresh_from_db()
    assert mapping.applies_from == dt.date(2026, 3, 1)


def test_a_worker_records_no_further_back_than_the_farm_allows(cast: Cast) -> None:
    worker = enter(cast.worker)
    long_ago = dt.date.today() - dt.timedelta(days=15)
    found = faults(weigh(worker, cast, picked_on=long_ago.isoformat()))
    assert "may record and correct back to" in " ".join(found["picked_on"])

    of_late = dt.date.today() - dt.timedelta(days=13)
    assert weigh(worker, cast, picked_on=of_late.isoformat()).status_code == 302
    assert HarvestWeight.objects.get().created_by == cast.worker


# Deleting ------------------------------------------------------------------------------------


def test_what_other_records_refer_to_is_not_deleted(admin: Client, cast: Cast) -> None:
    page = page_of(cast.ours.block, "delete")
    assert admin.get(page).status_code == 200
    answer = admin.post(page, {"post": "yes"}, follow=True)
    assert "Not deleted, for other records refer to it: crops, trees." in text_of(answer)
    assert Block.objects.filter(pk=cast.ours.block.pk).exists()


def test_what_nothing_refers_to_is_deleted(admin: Client, cast: Cast) -> None:
    tree = row_of(Tree, cast.ours)
    assert admin.post(page_of(tree, "delete"), {"post": "yes"}).status_code == 302
    assert not Tree.objects.filter(pk=tree.pk).exists()


def test_a_weighing_is_deleted_with_its_links_to_trees(admin: Client, cast: Cast) -> None:
    weight = row_of(HarvestWeight, cast.ours)
    assert admin.post(page_of(weight, "delete"), {"post": "yes"}).status_code == 302
    assert not HarvestWeight.objects.exists()
    assert Tree.objects.filter(pk=cast.ours.tree.pk).exists()


def test_nothing_is_deleted_by_the_dozen(admin: Client, cast: Cast) -> None:
    answer = admin.get("/admin/records/tree/")
    assert "delete_selected" not in answer.content.decode()


def test_a_new_co_op_starts_with_its_members(admin: Client, cast: Cast) -> None:
    body = {
        "code": "NEW",
        "name": "A new co-op",
        "memberships-TOTAL_FORMS": "1",
        "memberships-0-farm": str(cast.neighbour.farm.pk),
        "memberships-0-starts_on": "2026-01-01",
        "memberships-0-shares": "all",
    }
    assert sent(admin, add_to(CoOp), **body).status_code == 302
    assert CoOp.objects.get(code="NEW").memberships.get().farm == cast.neighbour.farm
