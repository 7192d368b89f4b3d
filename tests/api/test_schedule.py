"""Rules, next tasks and alerts over the API: what people may decide, and what is refused."""

import datetime as dt
from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import Alert, NextTask, TaskChoice, TaskRule
from planning.services.schedules import rebuild_schedule
from records.models import Block, Farm, FarmRole
from tests.api.resources import make
from tests.cast import Cast, client_of, client_with
from tests.planning.schedules import plant_block, pollinate, prune, see

RULES, TASKS, ALERTS = "/api/v1/task-rules", "/api/v1/next-tasks", "/api/v1/alerts"
PRUNING = {
    "code": "pruning",
    "kind": "pruning",
    "title": "Pruning",
    "noun": "pruning",
    "trigger": "dates",
    "opens_on_day": "01-10",
    "best_on_day": "01-20",
    "closes_on_day": "01-31",
    "because": "We prune early.",
}
STRIPPING = {
    "code": "stripping",
    "kind": "leaf-stripping",
    "title": "Leaf stripping",
    "noun": "stripping",
    "trigger": "after-work",
    "after_kind": "pruning",
    "after_which": "last",
    "opens_days": 20,
    "best_days": 25,
    "closes_days": 30,
}
CHECK = {
    "code": "check",
    "kind": "other",
    "title": "Check",
    "noun": "check",
    "trigger": "after-stage",
    "after_bbch_from": "60",
    "after_bbch_to": "67",
    "after_stage": "first bloom",
    "opens_days": 1,
    "best_days": 2,
    "closes_days": 3,
}
BEFORE_LEAF_OUT = {
    **PRUNING,
    "trigger": "before-stage",
    "after_bbch_from": "07",
    "after_bbch_to": "11",
    "after_stage": "leaf-out",
    "opens_days": 14,
    "best_days": 3,
    "closes_days": 7,
}
AFTER_HARVEST = {
    **{name: value for name, value in STRIPPING.items() if not name.startswith("after_")},
    "trigger": "after-event",
    "after_event": "last-picking",
}
BY_HEAT = {**CHECK, "trigger": "after-heat", "after_degree_days": 800, "base_c": 10}
WHILE_UNCOUNTED = {**CHECK, "only_while": "uncounted-round", "only_while_days": 14}


def on_day(settings: Any, month: int, day: int, year: int = 2026) -> dt.date:
    settings.AS_OF = dt.date(year, month, day)
    return settings.AS_OF


@pytest.fixture
def block(cast: Cast) -> Block:
    """A planted block of our farm, which lies in the northern subtropics."""
    Farm.objects.filter(pk=cast.ours.farm.pk).update(latitude="32.7", longitude="-17")
    cast.ours.farm.refresh_from_db()
    return plant_block(cast.ours.farm, "S1")


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def rebuilt(cast: Cast, today: dt.date) -> None:
    rebuild_schedule(cast.ours.farm.pk, today)


def the_task(block: Block, rule: str = "pruning", number: int = 1) -> NextTask:
    return NextTask.objects.get(block=block, rule_code=rule, number=number, season_year=2026)


# Rules -------------------------------------------------------------------------------------------


def test_defaults_are_there_to_be_read_with_their_sources(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 1))
    rows = owner.get(RULES, {"farm": str(cast.ours.farm.pk)}).json()["results"]
    assert {row["code"] for row in rows if row["is_active"]} == {
        "pruning",
        "pollination",
        "initial-count",
        "retained-count",
        "picking",
    }
    assert {row["origin"] for row in rows} == {"default"}
    assert all(row["source"] for row in rows)


def test_a_changed_default_is_the_farms_own_and_stays_so(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 3, 1)
    rebuilt(cast, today)
    rule = TaskRule.objects.get(farm=cast.ours.farm, code="pruning")
    task = the_task(block)
    answer = owner.patch(f"{RULES}/{rule.pk}", {"best_on_day": "03-14"})
    assert answer.status_code == 200, answer.content
    assert (answer.json()["origin"], answer.json()["source"]) == ("own", "The farm's own rule.")
    rebuilt(cast, today)
    moved = the_task(block)
    assert (moved.pk, moved.best_on) == (task.pk, dt.date(2026, 3, 14))


def test_a_rule_is_switched_off_and_on(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 3, 1)
    rebuilt(cast, today)
    rule = TaskRule.objects.get(farm=cast.ours.farm, code="pruning")
    answer = owner.patch(f"{RULES}/{rule.pk}", {"is_active": False})
    assert answer.json()["source"].startswith("Dates: common practice")  # the figures are as before
    rebuilt(cast, today)
    assert not NextTask.objects.filter(rule_code="pruning").exists()
    owner.patch(f"{RULES}/{rule.pk}", {"is_active": True})
    rebuilt(cast, today)
    assert the_task(block).state == "open"


def test_a_blocks_own_rule_takes_the_place_of_the_species(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 3, 1)
    body = {**PRUNING, "farm": str(cast.ours.farm.pk), "block": str(block.pk)}
    answer = owner.post(RULES, body)
    assert answer.status_code == 201, answer.content
    rebuilt(cast, today)
    assert the_task(block).best_on == dt.date(2026, 1, 20)
    assert the_task(cast.ours.block).best_on == dt.date(2026, 3, 7)
    assert owner.delete(f"{RULES}/{answer.json()['id']}").status_code == 204
    rebuilt(cast, today)
    assert the_task(block).best_on == dt.date(2026, 3, 7)


def test_a_default_is_switched_off_not_deleted(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 1))
    rule = TaskRule.objects.get(farm=cast.ours.farm, code="pruning")
    answer = owner.delete(f"{RULES}/{rule.pk}")
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (422, "default-rule")


@pytest.mark.parametrize(
    ("body", "changes", "status", "field"),
    [
        # a day that no year has
        (PRUNING, {"best_on_day": "02-30"}, 422, "best_on_day"),
        # day and month the other way round
        (PRUNING, {"best_on_day": "20-01"}, 422, "best_on_day"),
        # not written as month and day
        (PRUNING, {"best_on_day": "20 Jan"}, 400, "best_on_day"),
        # a date is missing
        (PRUNING, {"best_on_day": ""}, 422, "best_on_day"),
        # it opens after its best day, so that it would last for more than a year
        (PRUNING, {"opens_on_day": "01-25"}, 422, "closes_on_day"),
        # days after something, of a rule of dates
        (PRUNING, {"opens_days": 1, "best_days": 2, "closes_days": 3}, 422, "best_days"),
        # work after nothing
        (STRIPPING, {"after_kind": ""}, 422, "after_kind"),
        # best before it opens
        (STRIPPING, {"best_days": 19}, 422, "best_days"),
        # days before what sets it off
        (STRIPPING, {"opens_days": -1}, 400, "opens_days"),
        # no stage
        (CHECK, {"after_stage": ""}, 422, "after_stage"),
        # stages the wrong way round
        (CHECK, {"after_bbch_to": "59"}, 422, "after_bbch_to"),
        # BBCH has two digits
        (CHECK, {"after_bbch_to": "100"}, 400, "after_bbch_to"),
        # a repeat that never ends
        (
            CHECK,
            {"repeat_opens_days": 1, "repeat_best_days": 2, "repeat_closes_days": 3},
            422,
            "repeat_best_days",
        ),
        # which count, of work that is none
        (CHECK, {"detail": "initial"}, 422, "detail"),
        # before a stage: it opens after its best day; no window of the year to fall back on
        (BEFORE_LEAF_OUT, {"opens_days": 2}, 422, "best_days"),
        (BEFORE_LEAF_OUT, {"best_on_day": ""}, 422, "best_on_day"),
        (BEFORE_LEAF_OUT, {"best_on_day": "02-30"}, 422, "best_on_day"),
        # work shows the stage that a rule comes after, and no other
        (BEFORE_LEAF_OUT, {"shown_by": "pruning"}, 422, "shown_by"),
        # after no event, or one that there is none of
        (AFTER_HARVEST, {"after_event": ""}, 422, "after_event"),
        (AFTER_HARVEST, {"after_event": "harvest-moon"}, 400, "after_event"),
        (STRIPPING, {"after_event": "season-end"}, 422, "after_event"),
        # heat without a base, from nought, and from two things at once
        (BY_HEAT, {"base_c": None}, 422, "after_degree_days"),
        (BY_HEAT, {"after_degree_days": 0}, 400, "after_degree_days"),
        (BY_HEAT, {"after_kind": "pruning", "after_which": "first"}, 422, "after_stage"),
        (CHECK, {"base_c": 10}, 422, "after_degree_days"),
        # a condition on no kind of work, on a round of no age, and on a count of nothing
        (CHECK, {"only_while": "none-yet"}, 422, "only_while_kind"),
        (WHILE_UNCOUNTED, {"only_while_days": None}, 422, "only_while_days"),
        (CHECK, {"only_while_detail": "initial"}, 422, "only_while"),
        # both a block and a species
        (PRUNING, {"species": True}, 422, "species"),
        # no such field
        (PRUNING, {"when": "spring"}, 400, "when"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused_at_its_field(
    body: dict[str, Any],
    changes: dict[str, Any],
    status: int,
    field: str,
    cast: Cast,
    block: Block,
    owner: APIClient,
) -> None:
    if "species" in changes:
        changes = {"species": str(block.trees.get().cultivar.species_id)}
    sent = {**body, "farm": str(cast.ours.farm.pk), "block": str(block.pk), **changes}
    answer = owner.post(RULES, sent)
    assert answer.status_code == status, answer.content
    assert {error["pointer"] for error in answer.json()["errors"]} == {f"/{field}"}
    assert answer.json()["errors"][0]["detail"].endswith(".")
    assert not TaskRule.objects.filter(farm=cast.ours.farm).exists()


@pytest.mark.parametrize(
    "body",
    [
        BEFORE_LEAF_OUT,
        AFTER_HARVEST,
        BY_HEAT,
        # counted from work
        {
            **{name: value for name, value in BY_HEAT.items() if "bbch" not in name},
            "after_stage": "",
            "after_kind": "pollination",
            "after_which": "first",
        },
        WHILE_UNCOUNTED,
        {**WHILE_UNCOUNTED, "only_while_detail": "retained"},
        {**CHECK, "only_while": "none-yet", "only_while_kind": "pruning"},
    ],
    ids=["stage", "event", "heat", "heat of work", "uncounted", "of a kind", "none yet"],
)
def test_every_trigger_and_condition_can_be_written_and_read(
    body: dict[str, Any], cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    sent = {**body, "farm": str(cast.ours.farm.pk), "block": str(block.pk)}
    answer = owner.post(RULES, sent)
    assert answer.status_code == 201, answer.content
    read = owner.get(f"{RULES}/{answer.json()['id']}").json()
    assert {name: read[name] for name in sent} == sent
    rebuilt(cast, on_day(settings, 3, 1))


def test_the_climate_may_be_chosen(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 1, 5)
    body = {"farm": str(cast.ours.farm.pk), "climate": "tropical-lowland", "days_ahead": 0}
    assert owner.post("/api/v1/schedule-settings", body).status_code == 201
    rebuilt(cast, today)
    assert the_task(block).best_on == dt.date(2026, 1, 31)


# Next tasks --------------------------------------------------------------------------------------


def test_a_task_says_what_why_and_what_to_mind(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 1))
    row = owner.get(f"{TASKS}/{the_task(block).pk}").json()
    assert (row["title"], row["block_code"], row["state"]) == ("Pruning", "S1", "open")
    assert (row["opens_on"], row["best_on"], row["closes_on"]) == (
        "2026-02-22",
        "2026-03-07",
        "2026-03-21",
    )
    assert row["reason"].startswith("Prune just before leaf-out.")
    assert any("ladder" in line.lower() for line in row["cautions"])
    assert any("power tools" in line for line in row["cautions"])
    assert "local law" in row["cautions"][-1]


def test_a_task_is_skipped_with_a_reason_and_taken_up_again(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 3, 10)
    rebuilt(cast, today)
    address = f"{TASKS}/{the_task(block).pk}"
    tag = owner.get(address)["ETag"]
    answer = owner.patch(address, {"skipped_because": "Hail."}, headers={"If-Match": tag})
    assert (answer.json()["state"], answer.json()["skipped_because"]) == ("skipped", "Hail.")
    assert (
        owner.patch(address, {"skipped_because": ""}, headers={"If-Match": tag}).status_code == 412
    )
    rebuilt(cast, today)
    assert the_task(block).state == "skipped"
    assert not Alert.objects.filter(block=block).exclude(state="closed").exists()
    assert owner.patch(address, {"skipped_because": ""}).json()["state"] == "overdue"
    assert TaskChoice.objects.count() == 1


def test_what_is_done_is_not_skipped(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 3, 10)
    prune(block, dt.date(2026, 3, 5))
    rebuilt(cast, today)
    answer = owner.patch(f"{TASKS}/{the_task(block).pk}", {"skipped_because": "Hail."})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/skipped_because"


@pytest.mark.parametrize("field", ["state", "best_on", "title", "reason"])
def test_nothing_computed_is_written(
    field: str, cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    answer = owner.patch(f"{TASKS}/{the_task(block).pk}", {field: "done"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, f"/{field}")


def test_decisions_outlive_a_task_that_goes_and_comes_back(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    today = on_day(settings, 5, 14)
    bloom = see(block, "60", dt.date(2026, 5, 12))
    rebuilt(cast, today)
    first = the_task(block, "pollination")
    owner.patch(
        f"{TASKS}/{first.pk}",
        {"assigned_to": [str(cast.worker.pk)], "skipped_because": "No pollen."},
    )
    bloom.delete()
    rebuilt(cast, today)
    assert not NextTask.objects.filter(block=block, rule_code="pollination").exists()
    see(block, "60", dt.date(2026, 5, 12))
    rebuilt(cast, today)
    again = the_task(block, "pollination")
    assert (again.state, again.assigned_to) == ("skipped", [cast.worker.pk])


def test_a_task_is_given_to_people_of_the_farm(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    address = f"{TASKS}/{the_task(block).pk}"
    answer = owner.patch(address, {"assigned_to": [str(cast.worker.pk)]})
    assert answer.json()["assigned_names"] == ["Worker"]
    theirs = {"assigned_to": str(cast.worker.pk)}
    assert [row["id"] for row in owner.get(TASKS, theirs).json()["results"]] == [
        str(the_task(block).pk)
    ]
    found = owner.get(ALERTS, theirs).json()["results"]
    assert [(row["kind"], row["assigned_names"]) for row in found] == [("overdue", ["Worker"])]
    assert owner.get(TASKS, {"assigned_to": str(cast.manager.pk)}).json()["results"] == []
    # whose role has ended is given nothing
    FarmRole.objects.filter(person=cast.worker).update(ends_on=dt.date(2026, 3, 9))
    again = owner.patch(address, {"assigned_to": [str(cast.worker.pk)]})
    assert (again.status_code, again.json()["errors"][0]["code"]) == (422, "no-role-there")


def test_an_app_pulls_a_schedule_page_by_page(cast: Cast, block: Block, settings: Any) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    app = client_with(cast.ours.farm, "schedule:read")
    seen: list[str] = []
    address: str | None = f"{TASKS}?page_size=1"
    while address:
        page = app.get(address).json()
        seen += [row["id"] for row in page["results"]]
        address = page["next"]
    assert len(seen) == len(set(seen)) == NextTask.objects.filter(farm=cast.ours.farm).count()
    table = app.get(TASKS, {"format": "csv"}).content.decode().splitlines()
    assert len(table) == len(seen) + 1
    assert "reason" in table[0]
    assert app.patch(f"{TASKS}/{seen[0]}", {"skipped_because": "x"}).status_code == 403


@pytest.mark.parametrize(
    ("query", "codes"),
    [
        ({"state": "overdue"}, {"pruning"}),
        ({"state": ["overdue", "coming"]}, {"pruning", "picking", "pollination"}),
        ({"kind": "pollination"}, {"pollination"}),
        ({"season": "2026", "due_by": "2026-05-16"}, {"pruning", "pollination"}),
        ({"due_by": "2026-03-06"}, set()),
        ({"opens_on_after": "2026-06-01", "opens_on_before": "2026-12-01"}, {"picking"}),
        ({"best_on_after": "2026-03-07", "best_on_before": "2026-03-07"}, {"pruning"}),
        ({"closes_on_after": "2026-03-21", "closes_on_before": "2026-03-21"}, {"pruning"}),
        ({"rule_code": "picking", "season": "2026"}, {"picking"}),
        ({"season": "2031"}, set()),
    ],
)
def test_tasks_are_filtered(
    query: dict[str, Any],
    codes: set[str],
    cast: Cast,
    block: Block,
    owner: APIClient,
    settings: Any,
) -> None:
    today = on_day(settings, 3, 10)
    see(block, "60", dt.date(2026, 3, 9))
    rebuilt(cast, today)
    task = the_task(block, "pollination")
    assert task.state == "open"
    NextTask.objects.filter(pk=task.pk).update(state="coming", best_on=dt.date(2026, 5, 13))
    found = owner.get(TASKS, {"block": str(block.pk), **query}).json()["results"]
    assert {row["rule_code"] for row in found if row["season_year"] == 2026} == codes


def test_work_that_waits_is_listed(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    rows = owner.get("/api/v1/undated-tasks", {"block": str(block.pk), "why": "waiting"}).json()
    assert {row["about"] for row in rows["results"]} == {
        "pollination",
        "picking",
        "initial-count",
        "retained-count",
    }


# Alerts ------------------------------------------------------------------------------------------


def test_an_alert_is_snoozed_until_a_day(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    address = f"{ALERTS}/{Alert.objects.get(block=block).pk}"
    assert owner.patch(address, {"snoozed_until": "2026-03-10"}).status_code == 422
    answer = owner.patch(address, {"snoozed_until": "2026-03-13"})
    assert (answer.json()["state"], answer.json()["snoozed_until"]) == ("snoozed", "2026-03-13")
    rebuilt(cast, on_day(settings, 3, 12))
    assert owner.get(address).json()["state"] == "snoozed"
    rebuilt(cast, on_day(settings, 3, 13))
    assert owner.get(address).json()["state"] == "active"


def test_an_alert_is_acknowledged_by_somebody(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    address = f"{ALERTS}/{Alert.objects.get(block=block).pk}"
    row = owner.patch(address, {"is_acknowledged": True}).json()
    assert (row["state"], row["acknowledged_by"]) == ("acknowledged", "Owner")
    assert row["acknowledged_at"] is not None
    # the first to take note stays named
    row = client_of(cast.manager).patch(address, {"is_acknowledged": True}).json()
    assert row["acknowledged_by"] == "Owner"
    # the next fact about the task is news
    rebuilt(cast, on_day(settings, 3, 22))
    kinds = Alert.objects.filter(block=block).values_list("kind", "state")
    assert sorted(kinds) == [("missed", "active"), ("overdue", "closed")]


def test_workers_note_the_alerts_about_their_own_tasks_only(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    rebuilt(cast, on_day(settings, 3, 10))
    owner.patch(f"{TASKS}/{the_task(block).pk}", {"assigned_to": [str(cast.worker.pk)]})
    own, others = Alert.objects.get(block=block), Alert.objects.get(block=cast.ours.block)
    worker = client_of(cast.worker)
    assert worker.get(f"{ALERTS}/{others.pk}").status_code == 200
    assert worker.patch(f"{ALERTS}/{others.pk}", {"is_acknowledged": True}).status_code == 403
    assert worker.patch(f"{ALERTS}/{own.pk}", {"is_acknowledged": True}).status_code == 200
    task = f"{TASKS}/{the_task(block).pk}"
    assert worker.patch(task, {"skipped_because": "Hail."}).status_code == 403


def test_a_farms_history_tells_who_decided_what(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    task = make("next-tasks", cast.ours, 7)
    owner.patch(f"{TASKS}/{task.pk}", {"skipped_because": "Hail."})
    found = owner.get(
        "/api/v1/history", {"farm": str(cast.ours.farm.pk), "kind": "task-choices"}
    ).json()["results"]
    assert [(row["action"], row["by"]) for row in found] == [("created", "Owner")]
    assert found[0]["values"]["skipped_because"] == "Hail."


def test_a_season_is_right_on_each_day_over_the_api(
    cast: Cast, block: Block, owner: APIClient, settings: Any
) -> None:
    """One block, day by day: what the list says of its pruning and its first two visits."""

    def states() -> list[str]:
        rows = owner.get(TASKS, {"block": str(block.pk), "season": "2026"}).json()["results"]
        wanted = [row for row in rows if row["kind"] in {"pruning", "pollination"}]
        late = {row["id"]: " late" if row["days_late"] else "" for row in wanted}
        return [f"{row['kind']} {row['number']} {row['state']}{late[row['id']]}" for row in wanted]

    course: list[tuple[tuple[int, int], Any, list[str]]] = [
        # the day before it opens
        ((2, 21), None, ["pruning 1 coming"]),
        ((2, 22), None, ["pruning 1 open"]),
        ((3, 7), None, ["pruning 1 open"]),
        ((3, 8), None, ["pruning 1 overdue"]),
        # pruned two days after the best day
        ((3, 9), lambda day: prune(block, day), ["pruning 1 done late"]),
        # first bloom
        ((5, 12), lambda day: see(block, "60", day), ["pruning 1 done late", "pollination 1 open"]),
        (
            (5, 13),
            lambda day: pollinate(block, day),
            ["pruning 1 done late", "pollination 1 done", "pollination 2 coming"],
        ),
        ((5, 15), None, ["pruning 1 done late", "pollination 1 done", "pollination 2 open"]),
        ((5, 17), None, ["pruning 1 done late", "pollination 1 done", "pollination 2 overdue"]),
        # never made: the third takes its place
        (
            (5, 18),
            None,
            [
                "pruning 1 done late",
                "pollination 1 done",
                "pollination 2 missed",
                "pollination 3 open",
            ],
        ),
    ]
    for (month, number), record, expected in course:
        day = on_day(settings, month, number)
        if record:
            record(day)
        rebuilt(cast, day)
        assert states() == expected, day
