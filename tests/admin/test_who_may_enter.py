"""Who comes in, and whose rows they find there."""

import pytest
from django.contrib import admin as django_admin
from django.db.models import Model
from django.test import Client

from planning.models import (
    Alert,
    CropPlan,
    FlowerHours,
    NextTask,
    ScheduleSetting,
    SeasonSummary,
    SpeciesFigure,
    StageForecast,
    TaskRule,
    UndatedTask,
)
from records import models
from records.api import co_ops, farms, field, fruit, harvest, plants, pollination, shed, weather
from tests.admin.conftest import enter
from tests.admin.pages import (
    MODELS,
    add_to,
    list_of,
    page_of,
    row_of,
    sent,
    text_of,
)
from tests.cast import Cast, make_person

# Seen by all, or by no one but platform admins; and a farm's own summaries are its own.
NOT_OF_A_MEMBER = {
    models.Species,
    models.Cultivar,
    models.CoOp,
    models.CoOpGrade,
    models.CoOpRole,
    models.FileBatch,
    models.Job,
    models.Person,
    models.Token,
    models.Invitation,
    models.FarmRole,
    models.SeasonStart,
    SeasonSummary,
    # A harvest share shows no schedule.
    Alert,
    FlowerHours,
    NextTask,
    ScheduleSetting,
    SpeciesFigure,
    StageForecast,
    TaskRule,
    UndatedTask,
    CropPlan,
}
OF_A_MEMBER = [model for model in MODELS if model not in NOT_OF_A_MEMBER]
# What a harvest share leaves out, so that staff find it with a full one only.
OF_A_FULL_SHARE = {
    models.TaskLog,
    models.GrowthStage,
    models.TrunkGirth,
    models.PollenBatch,
    models.PollinationRound,
    models.FruitCount,
    models.FruitSample,
    models.Delivery,
    models.Lot,
    models.WeatherStation,
    models.WeatherDay,
}
OF_A_FARM = [
    model
    for model in MODELS
    if model not in {models.Species, models.CoOp, models.CoOpGrade, models.CoOpRole, models.Job}
]


def named(*values: type[Model]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("model", values, ids=lambda model: model.__name__)


def listed(client: Client, model: type[Model]) -> set[object]:
    return {row.pk for row in client.get(list_of(model)).context["cl"].queryset}


def share_all(cast: Cast) -> None:
    cast.membership.shares = "all"
    cast.membership.save()


def test_a_field_worker_without_is_staff_stays_outside(cast: Cast) -> None:
    browser = Client()
    browser.force_login(cast.worker)
    answer = browser.get("/admin/")
    assert answer.status_code == 302
    assert "/admin/login/" in answer["Location"]


def test_nobody_signed_in_is_asked_to_sign_in(cast: Cast) -> None:
    assert Client().get(page_of(cast.ours.block)).status_code == 302


def test_a_person_without_any_role_finds_nothing_of_a_farm(cast: Cast) -> None:
    stranger = enter(make_person("stranger@elsewhere.example"))
    assert stranger.get("/admin/").status_code == 200
    assert [stranger.get(list_of(model)).status_code for model in OF_A_MEMBER] == [403] * len(
        OF_A_MEMBER
    )


@named(*OF_A_MEMBER)
def test_staff_of_a_co_op_find_their_members_rows_alone(
    staff: Client, cast: Cast, model: type[Model]
) -> None:
    if model in OF_A_FULL_SHARE:
        share_all(cast)
    ours, theirs = row_of(model, cast.ours), row_of(model, cast.neighbour)
    found = listed(staff, model)
    assert ours.pk in found
    assert theirs.pk not in found
    assert staff.get(page_of(ours)).status_code == 200


@named(*sorted(OF_A_FULL_SHARE, key=lambda model: model.__name__))
def test_what_a_harvest_share_leaves_out_is_not_found(
    staff: Client, cast: Cast, model: type[Model]
) -> None:
    ours = row_of(model, cast.ours)
    assert listed(staff, model) == set()
    answers = [staff.get(page_of(ours, page)).status_code for page in ("change", "history")]
    assert set(answers) <= {302, 403, 404}, answers


@named(*OF_A_FARM)
def test_another_farms_row_cannot_be_opened(
    owner: Client, staff: Client, cast: Cast, model: type[Model]
) -> None:
    theirs = row_of(model, cast.neighbour)
    pages = ["change", "history"] + (["delete"] if model is not models.Person else [])
    answers = {
        (who, page): client.get(page_of(theirs, page)).status_code
        for who, client in (("owner", owner), ("staff", staff))
        for page in pages
    }
    assert set(answers.values()) <= {302, 403, 404}, answers


@named(*OF_A_FARM)
def test_another_farms_row_cannot_be_changed(owner: Client, cast: Cast, model: type[Model]) -> None:
    theirs = row_of(model, cast.neighbour)
    before = model._base_manager.filter(pk=theirs.pk).values().get()
    assert owner.post(page_of(theirs), {"code": "MINE"}).status_code in {302, 403, 404}
    assert owner.post(page_of(theirs, "delete"), {"post": "yes"}).status_code in {302, 403, 404}
    assert model._base_manager.filter(pk=theirs.pk).values().get() == before


def test_a_farmer_finds_the_own_farm_and_no_other(owner: Client, cast: Cast) -> None:
    assert listed(owner, models.Farm) == {cast.ours.farm.pk}
    assert listed(owner, models.Tree) == {cast.ours.tree.pk}


def test_farms_and_memberships_are_set_up_by_platform_admins(owner: Client, staff: Client) -> None:
    for model in (models.Farm, models.Membership, models.CoOp, models.Species, models.Person):
        assert owner.get(add_to(model)).status_code == 403
        assert staff.get(add_to(model)).status_code == 403


def test_a_link_to_another_farm_is_no_choice(owner: Client, cast: Cast) -> None:
    answer = sent(
        owner, add_to(models.Tree), block=str(cast.neighbour.block.pk), row="7", position="7"
    )
    assert "block" in answer.context["adminform"].form.errors
    assert not models.Tree.objects.filter(row=7).exists()


def test_choices_offer_nothing_of_another_farm(owner: Client) -> None:
    query = {"app_label": "records", "model_name": "tree", "field_name": "block", "term": ""}
    answer = owner.get("/admin/autocomplete/", query)
    assert [each["text"] for each in answer.json()["results"]] == ["OURS N1"]


def test_staff_correct_weighings_only_where_the_membership_says_so(
    staff: Client, cast: Cast
) -> None:
    weight = row_of(models.HarvestWeight, cast.ours)
    assert "_save" not in staff.get(page_of(weight)).content.decode()
    assert staff.post(page_of(weight), {"docket": "X"}).status_code == 403

    cast.membership.staff_may_edit = True
    cast.membership.save()
    answer = sent(staff, page_of(weight), docket="X")
    assert answer.status_code == 302
    weight.refresh_from_db()
    assert weight.docket == "X"


def test_staff_may_not_write_beyond_the_dates_of_a_membership(staff: Client, cast: Cast) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.save()
    weight = row_of(models.HarvestWeight, cast.ours)
    answer = sent(staff, page_of(weight), picked_on="2019-05-01")
    assert "You may not write there." in text_of(answer)
    weight.refresh_from_db()
    assert str(weight.picked_on) == "2026-09-10"


# What a harvest share does not show ----------------------------------------------------------


def test_a_harvest_share_shows_the_code_of_a_farm_and_nothing_else(
    staff: Client, cast: Cast
) -> None:
    for address in (page_of(cast.ours.farm), list_of(models.Farm), page_of(cast.membership)):
        text = staff.get(address).content.decode()
        assert "OURS" in text
        assert "Farm OURS" not in text, address
        assert "Atlantic/Madeira" not in text, address


def test_a_harvest_share_shows_no_notes_and_keeps_them_when_staff_save(
    staff: Client, cast: Cast
) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.save()
    weight = row_of(models.HarvestWeight, cast.ours)
    models.HarvestWeight.objects.filter(pk=weight.pk).update(note="wet fruit", minutes=40)
    assert "wet fruit" not in staff.get(page_of(weight)).content.decode()
    assert sent(staff, page_of(weight), docket="X").status_code == 302
    weight.refresh_from_db()
    assert (weight.docket, weight.note, weight.minutes) == ("X", "wet fruit", 40)
    assert list(weight.trees.all()) == [cast.ours.tree]


def test_a_harvest_share_shows_no_row_and_position(staff: Client, cast: Cast) -> None:
    models.Tree.objects.filter(pk=cast.ours.tree.pk).update(
        row=1_987_654_321, position=1_987_654_321
    )
    graft = row_of(models.Graft, cast.ours)
    weight = row_of(models.HarvestWeight, cast.ours)
    seen = [page_of(cast.ours.tree), list_of(models.Tree), page_of(graft), page_of(weight)]
    for address in seen:
        text = staff.get(address).content.decode()
        assert "987654321" not in text.replace(",", ""), address


@pytest.mark.parametrize(
    ("model", "query"),
    [
        # Asking by name whether the farm is called so.
        (models.Farm, {"name__startswith": "Farm"}),
        (models.Farm, {"time_zone": "Atlantic/Madeira"}),
        # Asking through a link.
        (models.Tree, {"farm__name__startswith": "Farm"}),
        (models.Tree, {"row": "1"}),
        (models.HarvestWeight, {"minutes__gt": "1"}),
        (models.Intake, {"note__startswith": "w"}),
        (models.Intake, {"delivery__docket": "D1"}),
        (models.Intake, {"farm__name__startswith": "Farm"}),
    ],
)
def test_a_harvest_share_cannot_be_widened_by_the_address(
    staff: Client, cast: Cast, model: type[Model], query: dict[str, str]
) -> None:
    row_of(model, cast.ours)
    assert staff.get(list_of(model), query).status_code == 400


def test_a_harvest_share_still_filters_grafts_by_the_blocks_of_trees(
    staff: Client, cast: Cast
) -> None:
    graft = row_of(models.Graft, cast.ours)
    query = {"farm__id__exact": str(cast.ours.farm.pk)}
    filters = staff.get(list_of(models.Graft), query).context["cl"].filter_specs
    assert [spec.title for spec in filters] == ["farm", "block"]
    query["tree__block__id__exact"] = str(cast.ours.block.pk)
    assert list(staff.get(list_of(models.Graft), query).context["cl"].queryset) == [graft]


def test_platform_admins_may_ask_by_the_address(admin: Client) -> None:
    answer = admin.get(list_of(models.Farm), {"name__startswith": "Farm O"})
    assert answer.context["cl"].result_count == 1


def test_searching_finds_farms_by_what_is_shared(staff: Client) -> None:
    by_code = staff.get(list_of(models.Farm), {"q": "OURS"}).context["cl"]
    by_name = staff.get(list_of(models.Farm), {"q": "Farm"}).context["cl"]
    assert (by_code.result_count, by_name.result_count) == (1, 0)


def test_a_full_share_shows_everything(staff: Client, cast: Cast) -> None:
    share_all(cast)
    assert "Farm OURS" in staff.get(page_of(cast.ours.farm)).content.decode()


@pytest.mark.parametrize(
    "serializer",
    [
        farms.FarmSerializer,
        farms.SeasonStartSerializer,
        plants.BlockSerializer,
        plants.CultivarSerializer,
        plants.PlantingLineSerializer,
        plants.TreeSerializer,
        plants.GraftSerializer,
        harvest.ContainerSerializer,
        harvest.GradeSerializer,
        harvest.GradeMappingSerializer,
        harvest.CropSerializer,
        harvest.HarvestWeightSerializer,
        field.TaskLogSerializer,
        field.GrowthStageSerializer,
        field.TrunkGirthSerializer,
        pollination.PollenBatchSerializer,
        pollination.PollinationRoundSerializer,
        fruit.FruitCountSerializer,
        fruit.FruitSampleSerializer,
        shed.DeliverySerializer,
        shed.IntakeSerializer,
        shed.LotSerializer,
        weather.WeatherStationSerializer,
        weather.WeatherDaySerializer,
        co_ops.MembershipSerializer,
        co_ops.FarmRoleSerializer,
    ],
)
def test_the_admin_and_the_api_share_the_same(serializer: type) -> None:
    model = serializer.Meta.model
    names = {field.name for field in model._meta.concrete_fields}
    told = getattr(serializer.Meta, "shared", None)
    shown = django_admin.site._registry[model].shared
    if told is None:
        assert shown is None
    else:
        on_page = names & set(django_admin.site._registry[model].fields)
        assert set(shown) & on_page & set(serializer.Meta.fields) == set(told) & on_page


def test_a_worker_who_may_enter_still_sees_only_the_own_weighings(cast: Cast) -> None:
    others, own = (row_of(models.HarvestWeight, cast.ours, n) for n in (1, 2))
    models.HarvestWeight.objects.filter(pk=own.pk).update(created_by=cast.worker)
    assert listed(enter(cast.worker), models.HarvestWeight) == {own.pk}
    assert others.pk != own.pk
