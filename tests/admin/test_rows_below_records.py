"""Links and lines are saved with their record, and refused where they stand."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from records import models
from records.services import saving
from tests.admin.conftest import enter
from tests.admin.pages import add_to, faults, list_of, page_of, row_of, sent, text_of
from tests.api import resources
from tests.cast import Cast, make_cultivar, make_place
from tests.records import making


def line(relation: str, number: int, **values: str) -> dict[str, str]:
    """A row of an inline, by the browser's names."""
    return {f"{relation}-{number}-{name}": value for name, value in values.items()}


def refused(answer: Any) -> str:
    """What the page says of lines that were refused."""
    assert answer.status_code == 200, "the form was accepted"
    return text_of(answer)


# Links -----------------------------------------------------------------------------------------


def task_log(client: Client, cast: Cast, **changes: Any) -> Any:
    body = {
        "block": str(cast.ours.block.pk),
        "worked_trees": [str(cast.ours.tree.pk)],
        "kind": "pruning",
        "done_on": "2026-09-10",
        "people": "Person A, Person B",
        "details": '{"method": "heading"}',
    }
    return sent(client, add_to(models.TaskLog), **{**body, **changes})


def test_a_task_log_is_entered_with_its_trees(owner: Client, cast: Cast) -> None:
    assert task_log(owner, cast).status_code == 302
    log = models.TaskLog.objects.get()
    assert (log.farm, log.created_by) == (cast.ours.farm, cast.ours.owner)
    assert log.people == ["Person A", "Person B"]
    assert log.details == {"method": "heading"}
    assert list(log.trees.all()) == [cast.ours.tree]


@pytest.mark.parametrize(
    ("changes", "field", "text"),
    [
        # Another kind's details.
        ({"kind": "weeding"}, "details", "weeding has no detail method"),
        # No JSON at all.
        ({"details": "cut back"}, "details", "Enter a valid JSON"),
        # Tomorrow's work.
        ({"done_on": "2199-01-01"}, "done_on", "in the future"),
    ],
)
def test_a_wrong_task_log_is_refused_at_the_field(
    owner: Client, cast: Cast, changes: dict[str, str], field: str, text: str
) -> None:
    assert text in " ".join(faults(task_log(owner, cast, **changes))[field])
    assert not models.TaskLog.objects.exists()


def test_work_without_details_is_entered_without_any(owner: Client, cast: Cast) -> None:
    assert task_log(owner, cast, kind="weeding", details="").status_code == 302
    assert models.TaskLog.objects.get().details == {}


def test_trees_of_another_block_are_refused_at_the_trees(owner: Client, cast: Cast) -> None:
    block = models.Block.objects.create(farm=cast.ours.farm, code="S2")
    tree = models.Tree.objects.create(farm=cast.ours.farm, block=block, row=1, position=1)
    found = faults(task_log(owner, cast, worked_trees=[str(tree.pk)]))
    assert found == {"worked_trees": ["Tree 1/1 stands in another block."]}


def test_linked_trees_are_shown_to_those_who_only_look(
    staff: Client, owner: Client, cast: Cast
) -> None:
    cast.membership.shares = "all"
    cast.membership.save()
    log = row_of(models.TaskLog, cast.ours)
    page = staff.get(page_of(log))
    assert "_save" not in page.content.decode()
    assert "OURS N1 1/1" in text_of(page)
    assert page_of(cast.ours.tree) in page.content.decode()


def test_what_a_worker_does_not_see_stays_linked(cast: Cast) -> None:
    """A worker sees the own weighings alone, and may correct the own delivery."""
    today = dt.date.today()
    delivery = row_of(models.Delivery, cast.ours)
    models.Delivery.objects.filter(pk=delivery.pk).update(
        created_by=cast.worker, delivered_on=today
    )
    (others,) = delivery.weights.all()
    answer = sent(enter(cast.worker), page_of(delivery), carried_weights=[], docket="D9")
    assert answer.status_code == 302
    assert list(delivery.weights.all()) == [others]


def test_pollen_without_donors_is_refused_at_them(owner: Client, cast: Cast) -> None:
    body = {
        "farm": str(cast.ours.farm.pk),
        "collected_at_0": "2026-09-10",
        "collected_at_1": "05:30",
        "stage": "male",
    }
    found = faults(sent(owner, add_to(models.PollenBatch), **body))
    assert found == {"from_trees": ["Name the trees or cultivars it came from."]}
    answer = sent(owner, add_to(models.PollenBatch), from_trees=[str(cast.ours.tree.pk)], **body)
    assert answer.status_code == 302
    assert models.PollenBatch.objects.get().donor_trees.get() == cast.ours.tree


def test_a_count_above_the_flowers_looked_at_is_refused(owner: Client, cast: Cast) -> None:
    count = row_of(models.FruitCount, cast.ours)
    found = faults(sent(owner, page_of(count), fruit="21"))
    assert "More fruit than marked flowers looked at." in " ".join(found["__all__"])


def test_a_count_of_marked_flowers_names_its_rounds(owner: Client, cast: Cast) -> None:
    count = row_of(models.FruitCount, cast.ours)
    found = faults(sent(owner, page_of(count), of_rounds=[]))
    assert list(found) == ["of_rounds"]


# Lines -----------------------------------------------------------------------------------------


def intake(client: Client, cast: Cast, *lines: dict[str, str]) -> Any:
    body = {
        "farm": str(cast.ours.farm.pk),
        "received_on": "2026-09-11",
        "weight": "55",
        "unit": "kg",
        "weight_kind": "net",
        "sorted_weights-TOTAL_FORMS": str(len(lines)),
    }
    for each in lines:
        body |= each
    return sent(client, add_to(models.Intake), **body)


def test_an_intake_is_entered_with_what_sorting_found(owner: Client, cast: Cast) -> None:
    grade = str(cast.ours.grade.pk)
    answer = intake(
        owner,
        cast,
        line("sorted_weights", 0, grade=grade, weight="40", unit="kg"),
        line("sorted_weights", 1, reject_reason="split", weight="2.5", unit="kg"),
    )
    assert answer.status_code == 302
    (received,) = models.Intake.objects.all()
    found = received.sorted_weights.order_by("-net_g").values_list("net_g", "reject_reason")
    assert list(found) == [(40_000, ""), (2_500, "split")]


def test_grades_above_the_net_are_refused_at_the_lines(owner: Client, cast: Cast) -> None:
    grade = str(cast.ours.grade.pk)
    answer = intake(owner, cast, line("sorted_weights", 0, grade=grade, weight="90", unit="kg"))
    text = refused(answer)
    assert text.count("Grades and rejects come to 90 kg, above the net 55 kg.") == 1
    (formset,) = [each.formset for each in answer.context["inline_admin_formsets"]]
    assert formset.non_form_errors()
    assert not models.Intake.objects.exists()


def test_a_line_of_neither_grade_nor_reason_is_refused(owner: Client, cast: Cast) -> None:
    answer = intake(owner, cast, line("sorted_weights", 0, weight="9", unit="kg"))
    assert "Give a grade of the farm or of the co-op" in refused(answer)


def test_a_corrected_intake_keeps_its_lines(owner: Client, cast: Cast) -> None:
    received = row_of(models.Intake, cast.ours)
    kept = set(received.sorted_weights.values_list("pk", flat=True))
    assert sent(owner, page_of(received), docket="D9").status_code == 302
    assert set(received.sorted_weights.values_list("pk", flat=True)) == kept


def test_a_line_is_corrected_and_another_taken_off(owner: Client, cast: Cast) -> None:
    received = row_of(models.Intake, cast.ours)
    values = {"sorted_weights-0-weight": "41", "sorted_weights-1-DELETE": "on"}
    assert sent(owner, page_of(received), **values).status_code == 302
    assert received.sorted_weights.get().net_g == 41_000
    received.refresh_from_db()
    assert received.version == 2


def test_a_lot_shipped_before_packing_is_refused(owner: Client, cast: Cast) -> None:
    lot = row_of(models.Lot, cast.ours)
    found = faults(sent(owner, page_of(lot), shipped_on="2026-09-01"))
    assert found["__all__"] == ["The lot was shipped before it was packed."]


def test_a_lot_takes_no_more_than_was_received(owner: Client, cast: Cast) -> None:
    lot = row_of(models.Lot, cast.ours)
    answer = sent(owner, page_of(lot), **{"lines-0-weight": "80"})
    assert "above its net" in refused(answer)
    assert lot.lines.get().net_g == 40_000


def test_staff_pack_what_the_co_op_received(staff: Client, cast: Cast) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.save()
    received = row_of(models.Intake, cast.ours)
    models.Intake.objects.filter(pk=received.pk).update(co_op=cast.co_op)
    body = {
        "co_op": str(cast.co_op.pk),
        "code": "L1",
        "packed_on": "2026-09-12",
        "lines-TOTAL_FORMS": "1",
        **line("lines", 0, intake=str(received.pk), weight="40", unit="kg"),
    }
    assert sent(staff, add_to(models.Lot), **body).status_code == 302
    packed = models.LotLine.objects.get()
    assert (packed.intake, packed.farm, packed.net_g) == (received, cast.ours.farm, 40_000)


def test_a_farm_is_entered_into_a_co_ops_station_by_its_staff(staff: Client, cast: Cast) -> None:
    body = {
        "co_op": str(cast.co_op.pk),
        "name": "hill",
        "time_zone": "Atlantic/Madeira",
        "uses-TOTAL_FORMS": "1",
        **line("uses", 0, farm=str(cast.ours.farm.pk), starts_on="2026-01-01"),
    }
    answer = sent(staff, add_to(models.WeatherStation), **body)
    assert answer.status_code == 302
    use = models.StationUse.objects.get()
    assert (use.farm, use.starts_on) == (cast.ours.farm, dt.date(2026, 1, 1))


def test_a_farm_sees_only_itself_among_the_users_of_a_station(
    owner: Client, staff: Client, cast: Cast
) -> None:
    station = models.WeatherStation.objects.create(
        co_op=cast.co_op, name="hill", time_zone="Atlantic/Madeira"
    )
    for farm in (cast.ours.farm, cast.neighbour.farm):
        models.StationUse.objects.create(station=station, farm=farm)
    theirs = cast.neighbour.farm
    page = owner.get(page_of(station)).content.decode()
    assert "OURS" in page
    assert theirs.code not in page
    # Who may change the station keeps the users that they do not see.
    values = {"uses-0-ends_on": "2026-06-30", "name": "hilltop"}
    assert sent(staff, page_of(station), **values).status_code == 302
    assert set(station.uses.values_list("farm", "ends_on")) == {
        (cast.ours.farm.pk, dt.date(2026, 6, 30)),
        (theirs.pk, None),
    }


def test_two_stations_of_one_day_are_refused_at_the_farms(owner: Client, cast: Cast) -> None:
    row_of(models.WeatherStation, cast.ours)
    station = models.WeatherStation.objects.create(
        farm=cast.ours.farm, name="gate", time_zone="Atlantic/Madeira"
    )
    values = {"uses-TOTAL_FORMS": "1", **line("uses", 0, farm=str(cast.ours.farm.pk))}
    assert "goes by another station" in refused(sent(owner, page_of(station), **values))
    assert not station.uses.exists()


def pollinate(client: Client, cast: Cast, **changes: Any) -> Any:
    batch = resources.make("pollen-batches", cast.ours)
    body = {
        "block": str(cast.ours.block.pk),
        "cultivar": str(cast.ours.tree.cultivar_id),
        "mother_trees": [str(cast.ours.tree.pk)],
        "pollinated_on": "2026-09-10",
        "method": "brush",
        "pollen_batch": str(batch.pk),
        "flowers": "40",
    }
    return sent(client, add_to(models.PollinationRound), **{**body, **changes})


def test_a_round_is_entered_with_flowers_by_tree(owner: Client, cast: Cast) -> None:
    counted = {
        "mother_trees": [],
        "tree_links-TOTAL_FORMS": "1",
        **line("tree_links", 0, tree=str(cast.ours.tree.pk), flowers="40"),
    }
    assert pollinate(owner, cast, **counted).status_code == 302
    link = models.PollinationRoundTree.objects.get()
    assert (link.tree, link.flowers) == (cast.ours.tree, 40)


def test_flowers_by_tree_that_do_not_add_up_are_refused(owner: Client, cast: Cast) -> None:
    counted = {
        "tree_links-TOTAL_FORMS": "1",
        **line("tree_links", 0, tree=str(cast.ours.tree.pk), flowers="30"),
    }
    text = refused(pollinate(owner, cast, **counted))
    assert "The flowers by tree add up to 30, not to 40." in text
    assert not models.PollinationRound.objects.exists()


def test_a_corrected_round_keeps_its_trees_and_flowers(owner: Client, cast: Cast) -> None:
    counted = {
        "tree_links-TOTAL_FORMS": "1",
        **line("tree_links", 0, tree=str(cast.ours.tree.pk), flowers="40"),
    }
    assert pollinate(owner, cast, **counted).status_code == 302
    visit = models.PollinationRound.objects.get()
    assert sent(owner, page_of(visit), minutes="55").status_code == 302
    assert visit.tree_links.get().flowers == 40
    visit.refresh_from_db()
    assert visit.minutes == 55


def test_another_cultivars_tree_is_refused_at_the_trees(owner: Client, cast: Cast) -> None:
    found = faults(pollinate(owner, cast, cultivar=str(make_cultivar("Brumel").pk)))
    assert "another cultivar is another round" in " ".join(found["mother_trees"])


def test_old_pollen_is_saved_with_a_warning(owner: Client, cast: Cast) -> None:
    assert pollinate(owner, cast, started_at="12:00").status_code == 302
    page = text_of(owner.get(page_of(models.PollinationRound.objects.get())))
    assert "The pollen was over 90 minutes old" in page


def test_a_stage_of_three_digits_is_refused_at_the_stage(owner: Client, cast: Cast) -> None:
    stage = row_of(models.GrowthStage, cast.ours)
    assert list(faults(sent(owner, page_of(stage), bbch="100"))) == ["bbch"]


def test_a_girth_of_nothing_is_refused(owner: Client, cast: Cast) -> None:
    girth = row_of(models.TrunkGirth, cast.ours)
    assert list(faults(sent(owner, page_of(girth), girth_mm="0"))) == ["girth_mm"]


def test_a_weather_day_takes_hours_with_gaps(owner: Client, cast: Cast) -> None:
    day = row_of(models.WeatherDay, cast.ours)
    hours = ",".join(["15.5"] * 23 + [""])
    assert sent(owner, page_of(day), hourly_temperature_c=hours).status_code == 302
    day.refresh_from_db()
    assert day.hourly_temperature_c == [Decimal("15.5")] * 23 + [None]
    assert day.hourly_humidity_percent is None


# Ways from one list to another -----------------------------------------------------------------


def test_a_block_leads_to_its_trees_and_weighings(owner: Client, cast: Cast) -> None:
    block = cast.ours.block
    query = f"?farm__id__exact={cast.ours.farm.pk}&block__id__exact={block.pk}"
    for page in (page_of(block), list_of(models.Block)):
        text = owner.get(page).content.decode().replace("&amp;", "&")
        assert list_of(models.Tree) + query in text
        assert list_of(models.HarvestWeight) + query in text
    (tree,) = owner.get(list_of(models.Tree) + query).context["cl"].result_list
    assert tree == cast.ours.tree


def test_a_harvest_share_follows_a_block_to_its_trees(staff: Client, cast: Cast) -> None:
    text = staff.get(list_of(models.Block)).content.decode()
    assert f"block__id__exact={cast.ours.block.pk}" in text


def test_trees_are_listed_by_row_and_position(owner: Client, cast: Cast) -> None:
    for row, position in ((1, 10), (2, 1), (1, 2)):
        models.Tree.objects.create(
            farm=cast.ours.farm, block=cast.ours.block, row=row, position=position
        )
    listed = owner.get(list_of(models.Tree)).context["cl"].result_list
    assert [(tree.row, tree.position) for tree in listed] == [(1, 1), (1, 2), (1, 10), (2, 1)]


def test_trees_are_filtered_by_whether_they_stand(owner: Client, cast: Cast) -> None:
    gone = row_of(models.Tree, cast.ours)
    models.Tree.objects.filter(pk=gone.pk).update(removed_on=dt.date(2024, 1, 1))
    found = {
        choice: list(owner.get(list_of(models.Tree), {"standing": choice}).context["cl"].queryset)
        for choice in ("yes", "no")
    }
    assert found == {"yes": [cast.ours.tree], "no": [gone]}


def test_a_harvest_share_does_not_tell_which_trees_stand(staff: Client, cast: Cast) -> None:
    assert staff.get(list_of(models.Tree), {"standing": "no"}).status_code == 400


def test_trees_are_filtered_by_cultivars_of_all_and_of_the_farm(owner: Client, cast: Cast) -> None:
    query = {"farm__id__exact": str(cast.ours.farm.pk)}
    own = row_of(models.Cultivar, cast.ours)
    row_of(models.Cultivar, cast.neighbour)
    filters = owner.get(list_of(models.Tree), query).context["cl"].filter_specs
    (cultivars,) = [spec for spec in filters if spec.title == "cultivar"]
    offered = {key for key, _ in cultivars.lookup_choices}
    assert {own.pk, cast.ours.tree.cultivar_id} <= offered
    assert offered <= set(
        models.Cultivar.objects.usable_on(cast.ours.farm.pk).values_list("pk", flat=True)
    )


def test_the_first_page_follows_the_order_of_the_work(admin: Client, cast: Cast) -> None:
    groups = admin.get("/admin/").context["app_list"]
    titles = [group["name"] for group in groups]
    assert titles[:6] == [
        "Farms and people",
        "Plants",
        "Work and weather",
        "Pollination and fruit set",
        "Harvest",
        "Packing shed",
    ]
    shown = [model["object_name"] for group in groups for model in group["models"]]
    assert len(shown) == len(set(shown))
    assert {"TaskLog", "Intake", "Job", "SeasonSummary"} <= set(shown)


def test_the_first_page_names_no_group_that_would_be_empty(cast: Cast) -> None:
    titles = [group["name"] for group in enter(cast.worker).get("/admin/").context["app_list"]]
    assert "Members' files" not in titles
    assert "Pollination and fruit set" in titles


def test_a_grower_sees_the_own_lines_of_a_co_ops_lot(
    owner: Client, staff: Client, cast: Cast
) -> None:
    other = make_place("THIRD")
    models.Membership.objects.create(
        co_op=cast.co_op, farm=other.farm, starts_on=dt.date(2020, 1, 1), shares="harvest"
    )
    intakes = [
        making.make_intake(place, co_op=cast.co_op, docket=f"of {place.farm.code}")
        for place in (cast.ours, other)
    ]
    lines = [{"intake": intake, "weight": 5, "unit": "kg"} for intake in intakes]
    lot = models.Lot(
        co_op=cast.co_op, code="L1", packed_on=intakes[0].received_on, note="soft ones"
    )
    saving.save(lot, lines=lines)
    page = text_of(owner.get(page_of(lot)))
    assert "of OURS" in page
    assert "of THIRD" not in page
    assert "soft ones" not in page
    theirs = text_of(staff.get(page_of(lot)))
    assert "of THIRD" in theirs
    assert owner.post(page_of(lot), {"shipped_to": "us"}).status_code == 403
