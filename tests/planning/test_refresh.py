"""A refresh of what has moved comes to the same rows as a rebuild from nothing."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.models import (
    DayRollUp,
    MemberDays,
    MemberRollUp,
    SeasonSummary,
    SeenRecords,
    StaleSeason,
    SummaryLevel,
)
from planning.services.derived import Written
from planning.services.season_summaries import (
    co_ops_of,
    rebuild_co_op,
    rebuild_farm,
    refresh_co_op,
    refresh_farm,
    refresh_member,
)
from records.models import (
    Block,
    CoOp,
    Crop,
    Farm,
    Grade,
    GradeMapping,
    HarvestWeight,
    HarvestWeightTree,
    Intake,
    Membership,
    SeasonStart,
    SortedWeight,
    TaskLog,
    Tree,
)
from tests.cast import make_cultivar
from tests.planning.ground import (
    TODAY,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    make_tree,
    weigh,
)
from tests.planning.mixed_co_op import Mixed, make_mixed

pytestmark = pytest.mark.django_db
STORED = (SeasonSummary, MemberDays, MemberRollUp, DayRollUp)
UNTOLD = ("id", "version", "created_at", "updated_at", "fingerprint", "tick")


def today_in(_: str) -> dt.date:
    return TODAY


def refresh(co_op: CoOp, farms: list[Farm], today: dt.date = TODAY) -> None:
    """As the jobs do, of all farms."""
    for farm in farms:
        refresh_farm(farm.pk, today)
        for co_op_id in co_ops_of(farm.pk):
            refresh_member(co_op_id, farm.pk, today)
    refresh_co_op(co_op.pk, lambda _: today)


def from_nothing(co_op: CoOp, farms: list[Farm], today: dt.date = TODAY) -> None:
    for model in (*STORED, SeenRecords, StaleSeason):
        model.objects.all().delete()
    for farm in farms:
        rebuild_farm(farm.pk, today)
    rebuild_co_op(co_op.pk, lambda _: today)


def stored() -> dict[str, list[str]]:
    """What every stored row says; the packed days as rows, in no order."""
    found = {}
    for model in STORED:
        fields = [f.attname for f in model._meta.concrete_fields if f.attname not in UNTOLD]
        rows = model.objects.values_list(*fields)
        if model is MemberDays:
            told = [(*row[:4], each) for row in rows for each in zip(*row[4:], strict=True)]
        else:
            told = list(rows)
        found[model.__name__] = sorted(map(repr, told))
    return found


# What people do to records -----------------------------------------------------------------------

Edit = Callable[[Mixed, Random], None]


def some(rows: Any, dice: Random) -> Any:
    found = list(rows.order_by("pk"))
    return dice.choice(found) if found else None


def correct_a_weight(mixed: Mixed, dice: Random) -> None:
    weight = some(HarvestWeight.objects.filter(net_g__isnull=False), dice)
    if weight:
        weight.net_g = dice.randrange(100, 90_000)
        weight.save()


def move_a_weight_to_another_day(mixed: Mixed, dice: Random) -> None:
    if weight := some(HarvestWeight.objects, dice):
        HarvestWeight.objects.filter(pk=weight.pk).update(picked_on=mixed.day(), crop=None)


def delete_a_weight(mixed: Mixed, dice: Random) -> None:
    if weight := some(HarvestWeight.objects, dice):
        HarvestWeight.objects.filter(pk=weight.pk).delete()


def retire_a_weight(mixed: Mixed, dice: Random) -> None:
    if weight := some(HarvestWeight.objects.kept(), dice):
        HarvestWeight.objects.filter(pk=weight.pk).update(retired_on=TODAY)


def weigh_more(mixed: Mixed, dice: Random) -> None:
    block = some(Block.objects, dice)
    kg = dice.choice([None, dice.randrange(1, 50)])
    day = mixed.day().isoformat()
    weigh(block, day, kg, cultivar=mixed.cultivar(), fruit_count=dice.randrange(1, 80))


def weigh_a_tree(mixed: Mixed, dice: Random) -> None:
    weight = some(HarvestWeight.objects.filter(net_g__isnull=False), dice)
    if weight is None:
        return
    number = Tree.objects.filter(block=weight.block).count() + 1
    tree = make_tree(weight.block, number, cultivar=mixed.cultivars[0])
    HarvestWeightTree.objects.create(farm_id=weight.farm_id, weight=weight, tree=tree)


def regrade_a_weight(mixed: Mixed, dice: Random) -> None:
    if weight := some(HarvestWeight.objects, dice):
        grade = some(Grade.objects.filter(farm=weight.farm), dice)
        HarvestWeight.objects.filter(pk=weight.pk).update(grade=grade)


def map_a_grade(mixed: Mixed, dice: Random) -> None:
    grade, to = some(Grade.objects, dice), dice.choice(mixed.co_op_grades)
    day = mixed.day()
    if grade and not GradeMapping.objects.filter(grade=grade, applies_from=day).exists():
        GradeMapping.objects.create(farm=grade.farm, grade=grade, co_op_grade=to, applies_from=day)


def unmap_a_grade(mixed: Mixed, dice: Random) -> None:
    if mapping := some(GradeMapping.objects, dice):
        mapping.delete()


def change_what_a_co_op_grade_is(mixed: Mixed, dice: Random) -> None:
    grade = dice.choice(mixed.co_op_grades)
    grade.is_marketable = not grade.is_marketable
    grade.save()


def end_a_membership(mixed: Mixed, dice: Random) -> None:
    if member := some(Membership.objects.filter(co_op=mixed.co_op, ends_on=None), dice):
        member.ends_on = max(mixed.day(), member.starts_on)
        member.save()


def leave_after_all(mixed: Mixed, dice: Random) -> None:
    if member := some(Membership.objects.filter(co_op=mixed.co_op), dice):
        Membership.objects.filter(pk=member.pk).delete()


def share_all(mixed: Mixed, dice: Random) -> None:
    if member := some(Membership.objects.filter(co_op=mixed.co_op), dice):
        member.shares = "all" if member.shares == "harvest" else "harvest"
        member.save()


def change_the_season(mixed: Mixed, dice: Random) -> None:
    farm, day = dice.choice(mixed.farms), mixed.day()
    if not SeasonStart.objects.filter(farm=farm, block=None, applies_from=day).exists():
        SeasonStart.objects.create(farm=farm, applies_from=day, month=dice.randrange(1, 13))


def open_a_crop(mixed: Mixed, dice: Random) -> None:
    weight = some(HarvestWeight.objects.filter(crop=None), dice)
    if weight:
        opened_on = weight.picked_on - dt.timedelta(days=dice.randrange(30, 300))
        crop = Crop.objects.create(
            farm=weight.farm,
            block=weight.block,
            opened_by="pruning",
            opened_on=opened_on,
            name=dice.choice(["main", "second", "third"]),
        )
        HarvestWeight.objects.filter(pk=weight.pk).update(crop=crop)


def see_bloom(mixed: Mixed, dice: Random) -> None:
    if crop := some(Crop.objects, dice):
        crop.bloom_began_on = crop.opened_on + dt.timedelta(days=dice.randrange(20, 200))
        crop.save()


def receive_more(mixed: Mixed, dice: Random) -> None:
    grams = dice.randrange(1_000, 50_000)
    Intake.objects.create(
        farm=dice.choice(mixed.farms),
        co_op=dice.choice([mixed.co_op, mixed.other, None]),
        received_on=mixed.day(),
        weight=Decimal(grams) / 1000,
        unit="kg",
        net_g=grams,
        cultivar=mixed.cultivar(),
    )


def sort_an_intake(mixed: Mixed, dice: Random) -> None:
    if intake := some(Intake.objects, dice):
        SortedWeight.objects.create(
            farm=intake.farm,
            intake=intake,
            reject_reason=f"reason {dice.random()}",
            weight=1,
            unit="kg",
            net_g=1_000,
        )


def drop_an_intake(mixed: Mixed, dice: Random) -> None:
    if intake := some(Intake.objects, dice):
        Intake.objects.filter(pk=intake.pk).update(retired_on=TODAY)


def go_by_another_basis(mixed: Mixed, dice: Random) -> None:
    mixed.co_op.basis = dice.choice(["picked", "received", "packed"])
    mixed.co_op.save()


def work(mixed: Mixed, dice: Random) -> None:
    block = some(Block.objects, dice)
    TaskLog.objects.create(
        farm=block.farm, block=block, kind="weeding", done_on=mixed.day(), minutes=60
    )


def measure_a_block(mixed: Mixed, dice: Random) -> None:
    block = some(Block.objects, dice)
    block.area_m2 = dice.randrange(500, 9_000)
    block.save()


EDITS: tuple[Edit, ...] = (
    correct_a_weight,
    move_a_weight_to_another_day,
    delete_a_weight,
    retire_a_weight,
    weigh_more,
    weigh_a_tree,
    regrade_a_weight,
    map_a_grade,
    unmap_a_grade,
    change_what_a_co_op_grade_is,
    end_a_membership,
    leave_after_all,
    share_all,
    change_the_season,
    open_a_crop,
    see_bloom,
    receive_more,
    sort_an_intake,
    drop_an_intake,
    go_by_another_basis,
    work,
    measure_a_block,
)


def assert_refreshed_as_from_nothing(mixed: Mixed) -> None:
    refresh(mixed.co_op, mixed.farms)
    refreshed = stored()
    from_nothing(mixed.co_op, mixed.farms)
    assert refreshed == stored()


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.__name__)
def test_after_each_kind_of_edit_a_refresh_equals_a_rebuild_from_nothing(edit: Edit) -> None:
    mixed = make_mixed(3, farms=3, rows=12)
    from_nothing(mixed.co_op, mixed.farms)
    edit(mixed, mixed.dice)
    assert_refreshed_as_from_nothing(mixed)


@pytest.mark.parametrize(("seed", "basis"), [(11, "picked"), (12, "received"), (13, "packed")])
def test_after_many_edits_a_refresh_equals_a_rebuild_from_nothing(seed: int, basis: str) -> None:
    mixed = make_mixed(seed, farms=4, rows=15, basis=basis)
    from_nothing(mixed.co_op, mixed.farms)
    for _ in range(4):
        for edit in mixed.dice.sample(EDITS, 3):
            edit(mixed, mixed.dice)
        refresh(mixed.co_op, mixed.farms)
    refreshed = stored()
    from_nothing(mixed.co_op, mixed.farms)
    assert refreshed == stored()


# What is not done --------------------------------------------------------------------------------


@pytest.fixture
def farm() -> Farm:
    """A member with two seasons."""
    farm = make_farm()
    block = make_block(farm)
    weigh(block, "2025-09-10", 10, cultivar=make_cultivar())
    weigh(block, "2026-09-10", 20, cultivar=make_cultivar())
    return farm


@pytest.fixture
def co_op(farm: Farm) -> CoOp:
    co_op = make_co_op()
    join_co_op(farm, co_op)
    from_nothing(co_op, [farm])
    return co_op


def test_nothing_is_done_where_nothing_has_moved(farm: Farm, co_op: CoOp) -> None:
    assert refresh_farm(farm.pk, TODAY) == Written()
    assert refresh_member(co_op.pk, farm.pk, TODAY) == Written()
    assert not StaleSeason.objects.exists()
    with CaptureQueriesContext(connection) as asked:
        refresh_co_op(co_op.pk, today_in)
    assert len(asked) <= 4


def test_only_the_season_that_moved_is_added_up(farm: Farm, co_op: CoOp) -> None:
    HarvestWeight.objects.filter(picked_on__year=2025).update(net_g=11_000)
    refresh_member(co_op.pk, farm.pk, TODAY)
    assert set(StaleSeason.objects.values_list("season_year", flat=True)) == {2025}
    kept = dict(DayRollUp.objects.values_list("season_year", "pk"))
    refresh_co_op(co_op.pk, today_in)
    after = dict(DayRollUp.objects.values_list("season_year", "pk"))
    assert (after[2026], after[2025] != kept[2025]) == (kept[2026], True)
    assert SeasonSummary.objects.get(level=SummaryLevel.CO_OP, season_year=2025).net_g == 11_000


def test_a_season_that_ended_is_refreshed(farm: Farm, co_op: CoOp) -> None:
    refresh(co_op, [farm], dt.date(2027, 1, 1))
    assert not SeasonSummary.objects.filter(is_closed=False).exists()


def test_members_of_which_nothing_is_stored_yet_are_built_first(farm: Farm, co_op: CoOp) -> None:
    other = make_farm("NEXT")
    weigh(make_block(other), "2026-09-10", 5)
    join_co_op(other, co_op)
    refresh_co_op(co_op.pk, today_in)
    assert SeasonSummary.objects.get(level=SummaryLevel.CO_OP, season_year=2026).net_g == 25_000


def test_roll_ups_add_up_to_the_rows(farm: Farm, co_op: CoOp) -> None:
    for model in (MemberRollUp, DayRollUp):
        rows = model.objects.order_by("season_year").values_list("season_year", "net_g", "records")
        assert list(rows) == [(2025, 10_000, 1), (2026, 20_000, 1)]
