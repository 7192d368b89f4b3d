"""The history pages say what changed, when and by whom."""

from django.test import Client

from records.models import Block, CoOp, Species, Tree
from tests.admin.conftest import enter
from tests.admin.pages import add_to, page_of, sent, text_of
from tests.cast import Cast, client_of


def test_history_says_who_changed_what(admin: Client, cast: Cast) -> None:
    sent(admin, page_of(cast.ours.block), name="By the well")
    text = text_of(admin.get(page_of(cast.ours.block, "history")))
    assert "Admin changed name: nothing → By the well" in text
    assert "the service created" in text


def test_history_names_the_records_that_links_lead_to(admin: Client, cast: Cast) -> None:
    sent(admin, page_of(cast.ours.tree), cultivar="")
    text = text_of(admin.get(page_of(cast.ours.tree, "history")))
    assert "cultivar: Ondrela → nothing" in text


def test_history_knows_what_came_by_the_api(admin: Client, cast: Cast) -> None:
    address = f"/api/v1/blocks/{cast.ours.block.pk}"
    client_of(cast.manager).patch(address, {"name": "By the well"}, format="json")
    text = text_of(admin.get(page_of(cast.ours.block, "history")))
    assert "Manager changed name: nothing → By the well" in text


def test_a_farms_history_tells_of_what_was_deleted(admin: Client, cast: Cast) -> None:
    sent(admin, add_to(Tree), block=str(cast.ours.block.pk), row="5", position="5")
    tree = Tree.objects.get(row=5)
    admin.post(page_of(tree, "delete"), {"post": "yes"})
    text = text_of(admin.get(page_of(cast.ours.farm, "history")))
    assert "Admin trees deleted" in text
    assert "Admin trees created" in text


def test_a_long_history_goes_on(admin: Client, cast: Cast) -> None:
    blocks = [Block(farm=cast.ours.farm, code=f"B{n:03}") for n in range(120)]
    Block.objects.bulk_create(blocks)
    first = admin.get(page_of(cast.ours.farm, "history"))
    page = first.context["page"]
    older = admin.get(page_of(cast.ours.farm, "history"), {"before": page.older}).context["page"]
    assert len(page.lines) == 100
    assert {line.url for line in page.lines}.isdisjoint({line.url for line in older.lines})


def test_a_long_history_of_one_record_goes_on(admin: Client, cast: Cast) -> None:
    for number in range(101):
        Block.objects.filter(pk=cast.ours.block.pk).update(name=f"name {number}")
    address = page_of(cast.ours.block, "history")
    page = admin.get(address).context["page"]
    older = admin.get(address, {"before": page.older}).context["page"]
    assert [line.action for line in older.lines] == ["changed", "created"]
    assert page.lines[-1].details[0].before == "name 0"


def test_a_cursor_that_was_made_up_starts_at_the_top(admin: Client, cast: Cast) -> None:
    answer = admin.get(page_of(cast.ours.farm, "history"), {"before": "made:up"})
    assert answer.status_code == 200
    assert answer.context["page"].lines


def test_what_belongs_to_no_farm_has_a_history_too(admin: Client, cast: Cast) -> None:
    species = Species.objects.get(code="sugar-apple")
    sent(admin, page_of(species), bearing_age_years="4")
    assert "Admin changed" in text_of(admin.get(page_of(species, "history")))
    sent(admin, page_of(cast.co_op), name="Renamed")
    assert CoOp.objects.get(pk=cast.co_op.pk).name == "Renamed"
    assert "→ Renamed" in text_of(admin.get(page_of(cast.co_op, "history")))


def test_a_farmer_reads_the_history_and_staff_do_not(
    owner: Client, staff: Client, cast: Cast
) -> None:
    address = page_of(cast.ours.block, "history")
    assert owner.get(address).status_code == 200
    assert staff.get(address).status_code == 403
    assert address not in staff.get(page_of(cast.ours.block)).content.decode()


def test_a_worker_who_may_enter_reads_no_history(cast: Cast) -> None:
    answer = enter(cast.worker).get(page_of(cast.ours.block, "history"))
    assert answer.status_code == 403
