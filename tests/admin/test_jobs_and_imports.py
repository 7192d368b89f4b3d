"""What the service writes itself is only looked at; dead jobs get another try."""

import pytest
from django.test import Client

from planning.models import SeasonSummary
from records.choices import JobState
from records.models import HarvestImport, ImportFile, ImportProblem, Job, ProposedChange
from tests.admin.pages import list_of, page_of, row_of, text_of
from tests.cast import Cast


def run_again(admin: Client, *jobs: Job) -> str:
    body = {"action": "run_again", "_selected_action": [str(job.pk) for job in jobs]}
    return text_of(admin.post(list_of(Job), body, follow=True))


def test_a_dead_job_is_run_again(admin: Client) -> None:
    job = Job.objects.create(kind="k", key="1", payload={"a": 1}, state=JobState.DEAD, attempts=10)
    assert "Dead jobs queued again: 1." in run_again(admin, job)
    again = Job.objects.get()
    assert (again.kind, again.key, again.payload) == ("k", "1", {"a": 1})
    assert (again.state, again.attempts) == (JobState.WAITING, 0)


def test_a_dead_job_gives_way_to_one_that_waits_for_the_same(admin: Client) -> None:
    dead = Job.objects.create(kind="k", key="1", payload={"old": True}, state=JobState.DEAD)
    waiting = Job.objects.create(kind="k", key="1", payload={"old": False})
    run_again(admin, dead)
    assert Job.objects.get() == waiting
    assert Job.objects.get().payload == {"old": False}


@pytest.mark.parametrize("state", [JobState.WAITING, JobState.RUNNING, JobState.DONE])
def test_only_dead_jobs_are_run_again(admin: Client, state: JobState) -> None:
    job = Job.objects.create(kind="k", key="1", state=state)
    assert "Dead jobs queued again: 0." in run_again(admin, job)
    assert Job.objects.get().state == state


def test_jobs_are_for_platform_admins(owner: Client, staff: Client) -> None:
    job = Job.objects.create(kind="k", key="1", state=JobState.DEAD)
    for client in (owner, staff):
        assert client.get(list_of(Job)).status_code == 403
        body = {"action": "run_again", "_selected_action": [str(job.pk)]}
        assert client.post(list_of(Job), body).status_code == 403
    assert Job.objects.get().state == JobState.DEAD


@pytest.mark.parametrize(
    "model", [Job, HarvestImport, ImportProblem, ProposedChange, SeasonSummary]
)
def test_what_the_service_writes_is_not_edited(admin: Client, cast: Cast, model: type) -> None:
    row = row_of(model, cast.ours)
    assert admin.post(page_of(row), {"state": "done"}).status_code == 403
    assert admin.post(page_of(row, "delete"), {"post": "yes"}).status_code == 403
    assert model._base_manager.filter(pk=row.pk).exists()


def test_an_import_shows_its_first_problems_and_the_way_to_all(admin: Client, cast: Cast) -> None:
    found = row_of(HarvestImport, cast.ours)
    ImportFile.objects.update_or_create(harvest_import=found, defaults={"progress": 40})
    ImportProblem.objects.bulk_create(
        ImportProblem(
            farm=cast.ours.farm,
            harvest_import=found,
            row=number,
            column="Peso",
            code="not-a-number",
            value="<b>12,5,0</b>",
            detail=f"Row {number} has no number.",
        )
        for number in range(1, 61)
    )
    answer = admin.get(page_of(found))
    text = text_of(answer)
    assert "40 %" in text
    assert "Row 50 has no number." in text
    assert "Row 51 has no number." not in text
    assert "All 60 problems" in text
    assert "<b>12,5,0</b>" not in answer.content.decode()
    every = admin.get(list_of(ImportProblem), {"harvest_import__id__exact": str(found.pk)})
    assert every.context["cl"].result_count == 60


def test_an_import_shows_what_was_done_by_a_rule_and_what_it_would_change(
    admin: Client, cast: Cast
) -> None:
    found = row_of(ProposedChange, cast.ours).harvest_import
    detail = "2 rows were taken for totals. All of them agree."
    remark = {"code": "totals", "sheet": "N1", "detail": detail, "count": 2, "rows": [5, 9]}
    HarvestImport.objects.filter(pk=found.pk).update(found={"remarks": [remark]})
    text = text_of(admin.get(page_of(found)))
    assert detail in text
    assert "2026-09-10, N1, 20 kg" in text
    assert "All 1 changes" in text
