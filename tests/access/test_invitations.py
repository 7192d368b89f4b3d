"""Invitations: who makes them, what their links open, and that each is used once."""

import datetime as dt
import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.core import mail
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.utils import timezone

from records.models import CoOpRole, Farm, FarmRole, Invitation, Job, Membership, Person
from records.services import invitations, jobs
from tests.cast import Cast, client_of, client_with, make_cast, make_person

PATH = "/api/v1/invitations"
PASSWORD = "figs and honey 1935"
NEW = {
    "name": "Ines Varela",
    "email": "ines@farm.example",
    "password": PASSWORD,
    "again": PASSWORD,
}


@pytest.fixture(autouse=True)
def _nobody_tried_before() -> None:
    cache.clear()


def invite(cast: Cast, by: Person | None = None, **body: Any) -> Any:
    values = {"farm": str(cast.ours.farm.pk), "role": "worker", **body}
    return client_of(by or cast.ours.owner).post(PATH, values)


def door_of(answer: Any) -> str:
    """The address within the service that a link leads to."""
    assert answer.status_code in {200, 201}, answer.content
    return str(answer.json()["link"]).removeprefix("http://127.0.0.1:8000")


def browser_of(person: Person | None = None) -> Client:
    browser = Client()
    if person is not None:
        browser.force_login(person)
    return browser


# Making ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("who", "to", "status"),
    [
        ("manager", {"role": "owner"}, 201),
        ("admin", {"role": "owner"}, 201),
        ("admin", {"farm": None, "role": "", "co_op": "ours"}, 201),
        ("staff", {"farm": None, "role": "", "co_op": "ours"}, 201),  # their own colleagues
        ("staff", {"role": "owner"}, 403),  # our farm has its people
        ("worker", {}, 403),
        ("adviser", {}, 403),
        ("manager", {"farm": None, "role": "", "co_op": "ours"}, 403),
    ],
)
def test_who_may_invite_whom(who: str, to: dict[str, Any], status: int, cast: Cast) -> None:
    body = {name: cast.co_op.pk if value == "ours" else value for name, value in to.items()}
    assert invite(cast, getattr(cast, who), **body).status_code == status
    assert Invitation.objects.exists() is (status == 201)


def test_staff_invite_the_owner_of_a_member_that_has_nobody_yet(cast: Cast) -> None:
    farm = Farm.objects.create(code="BARE", name="A bare farm", time_zone="Atlantic/Madeira")
    body = {"farm": str(farm.pk), "role": "owner"}
    assert invite(cast, cast.staff, **body).status_code == 422  # no member of theirs
    Membership.objects.create(farm=farm, co_op=cast.co_op, starts_on=dt.date(2026, 1, 1))
    assert invite(cast, cast.staff, **{**body, "role": "worker"}).status_code == 403
    made = invite(cast, cast.staff, **body)
    assert made.status_code == 201
    FarmRole.objects.create(farm=farm, person=cast.worker, role="worker")
    assert invite(cast, cast.staff, **body).status_code == 403
    assert client_of(cast.staff).get(f"{PATH}/{made.json()['id']}").status_code == 404


def test_no_app_invites_anybody(cast: Cast) -> None:
    body = {"farm": str(cast.ours.farm.pk), "role": "worker"}
    answer = client_with(cast.ours.farm, "records:write").post(PATH, body)
    assert (answer.status_code, answer.json()["code"]) == (403, "insufficient-scope")


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"role": ""}, 422, "/role"),
        ({"role": "king"}, 400, "/role"),
        ({"co_op": "ours"}, 422, "/farm"),  # to two places
        ({"email": "nobody"}, 400, "/email"),
        ({"expires_at": "2000-01-01T00:00:00Z"}, 422, "/expires_at"),
        ({"expires_at": "2999-01-01T00:00:00Z"}, 422, "/expires_at"),
        ({"link": "http://elsewhere.example"}, 400, "/link"),
    ],
)
def test_what_an_invitation_cannot_be(
    change: dict[str, Any], status: int, pointer: str, cast: Cast
) -> None:
    body = {name: cast.co_op.pk if value == "ours" else value for name, value in change.items()}
    answer = invite(cast, cast.admin, **body)
    assert answer.status_code == status
    assert pointer in [error["pointer"] for error in answer.json()["errors"]]
    assert not Invitation.objects.exists()


def test_the_link_is_shown_once_and_only_a_hash_is_kept(cast: Cast) -> None:
    made = invite(cast)
    secret = made.json()["link"].partition("-")[2].rpartition("-")[2][-20:]
    again = client_of(cast.ours.owner).get(f"{PATH}/{made.json()['id']}").json()
    assert (again["link"], again["delivery"], again["state"]) == (None, None, "open")
    with connection.cursor() as cursor:
        cursor.execute("SELECT i::text FROM records_invitation i")
        rows = cursor.fetchall()
        cursor.execute("SELECT i::text FROM records_invitationevent i")
        rows += cursor.fetchall()
    assert len(rows) == 2
    assert not any(secret in row for (row,) in rows)


def test_an_invitation_lasts_two_weeks(cast: Cast) -> None:
    expires_at = dt.datetime.fromisoformat(invite(cast).json()["expires_at"])
    assert dt.timedelta(days=13) < expires_at - timezone.now() <= dt.timedelta(days=14)


# Joining -----------------------------------------------------------------------------------------


def test_a_new_person_joins_and_is_signed_in(cast: Cast) -> None:
    door, browser = door_of(invite(cast, role="manager")), browser_of()
    assert "Farm OURS" in browser.get(door).content.decode()
    answer = browser.post(door, NEW, follow=True)
    assert answer.redirect_chain == [("/", 302)]
    person = Person.objects.get(email=NEW["email"])
    assert FarmRole.objects.get(person=person).role == "manager"
    assert person.check_password(PASSWORD)
    assert browser.get("/admin/").status_code == 200
    found = Invitation.objects.get()
    assert (found.accepted_by, found.created_by) == (person, cast.ours.owner)
    assert client_of(cast.ours.owner).get(f"{PATH}/{found.pk}").json()["state"] == "accepted"


def test_a_field_worker_is_welcome_outside_the_web_admin(cast: Cast) -> None:
    browser = browser_of()
    answer = browser.post(door_of(invite(cast)), NEW, follow=True)
    assert "field worker" in answer.content.decode()
    assert browser.get("/admin/").status_code == 302


def test_somebody_with_an_account_joins_another_farm(cast: Cast) -> None:
    browser = browser_of(cast.neighbour.owner)
    assert "You are signed in as" in browser.get(door := door_of(invite(cast))).content.decode()
    assert browser.post(door).status_code == 302
    roles = FarmRole.objects.filter(person=cast.neighbour.owner).values_list("farm__code", "role")
    assert set(roles) == {("NEXT", "owner"), ("OURS", "worker")}


def test_somebody_with_an_account_signs_in_first(cast: Cast) -> None:
    cast.neighbour.owner.set_password(PASSWORD)
    cast.neighbour.owner.save()
    door, browser = door_of(invite(cast)), browser_of()
    taken = browser.post(door, {**NEW, "email": "OWNER@next.example"})
    assert "has an account" in taken.content.decode()
    found = re.search(r'href="(/login\?next=[^"]+)"', browser.get(door).content.decode())
    assert found is not None
    body = {"username": "owner@next.example", "password": PASSWORD, "next": door}
    assert browser.post(found[1], body)["Location"] == door
    assert browser.post(door).status_code == 302
    assert FarmRole.objects.filter(person=cast.neighbour.owner, farm=cast.ours.farm).exists()


def test_staff_of_a_co_op_join_it(cast: Cast) -> None:
    made = invite(cast, cast.staff, farm=None, role="", co_op=str(cast.co_op.pk))
    browser_of().post(door_of(made), NEW)
    assert CoOpRole.objects.get(person__email=NEW["email"]).co_op == cast.co_op


def test_whoever_has_a_role_keeps_it_and_the_link_stays_good(cast: Cast) -> None:
    door = door_of(invite(cast))
    answer = browser_of(cast.manager).post(door)
    assert "You belong to Farm OURS already." in answer.content.decode()
    assert FarmRole.objects.get(person=cast.manager).role == "manager"
    assert browser_of(cast.neighbour.owner).post(door).status_code == 302


def test_whoever_left_may_come_back(cast: Cast) -> None:
    FarmRole.objects.filter(person=cast.manager).update(ends_on=dt.date(2026, 9, 11))
    browser_of(cast.manager).post(door_of(invite(cast, role="adviser")))
    role = FarmRole.objects.get(person=cast.manager)
    assert (role.role, role.ends_on) == ("adviser", None)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda door: door,  # used
        lambda door: door[:-1],
        lambda door: door + "x",
        lambda door: "/join/nonsense",
        lambda door: "/join/" + "0" * 32 + "-" + door.partition("-")[2],
        lambda door: door.partition("-")[0] + "-",
    ],
)
def test_links_that_open_nothing_all_answer_alike(spoil: Any, cast: Cast) -> None:
    door = door_of(invite(cast))
    browser_of().post(door, NEW)
    for answer in (browser_of().get(spoil(door)), browser_of().post(spoil(door), NEW)):
        assert answer.status_code == 404
        assert answer["Content-Type"].startswith("text/html")
        assert "This link is used up, too old or not complete." in answer.content.decode()
    assert Person.objects.filter(email=NEW["email"]).count() == 1
    assert answer["Cache-Control"] == "no-store"


def test_a_mailed_hash_that_is_empty_opens_nothing(cast: Cast) -> None:
    invite(cast)
    assert invitations.find_open(f"{Invitation.objects.get().pk.hex}-") is None


def test_an_expired_link_opens_nothing(cast: Cast) -> None:
    door = door_of(invite(cast))
    Invitation.objects.update(expires_at=timezone.now())
    assert browser_of().get(door).status_code == 404


def test_a_revoked_link_opens_nothing_and_its_row_stays(cast: Cast) -> None:
    made = invite(cast)
    client, address = client_of(cast.manager), f"{PATH}/{made.json()['id']}"
    assert client.delete(address).status_code == 204
    assert browser_of().get(door_of(made)).status_code == 404
    assert client.get(address).json()["state"] == "revoked"
    assert client.post(f"{address}/resend").status_code == 409
    assert client.patch(address, {"name": "again"}).status_code == 422


def test_a_new_link_takes_the_place_of_the_old(cast: Cast) -> None:
    made = invite(cast)
    address = f"{PATH}/{made.json()['id']}/resend"
    assert client_of(cast.worker).post(address).status_code in {403, 404}
    again = client_of(cast.ours.owner).post(address)
    assert again.status_code == 200
    assert browser_of().get(door_of(made)).status_code == 404
    assert browser_of().get(door_of(again)).status_code == 200


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"again": "something else"}, "again", "The two passwords differ."),
        ({"password": "12345678", "again": "12345678"}, "password", "entirely numeric"),
        (
            {"password": "ines@farm.example", "again": "ines@farm.example"},
            "password",
            "too similar",
        ),
        ({"email": "nobody"}, "email", "valid email"),
        ({"name": ""}, "name", "required"),
    ],
)
def test_a_wrong_form_says_where(change: dict[str, str], field: str, says: str, cast: Cast) -> None:
    answer = browser_of().post(door_of(invite(cast)), {**NEW, **change})
    assert says in str(answer.context["form"].errors[field])
    assert not Person.objects.filter(email=NEW["email"]).exists()


def test_a_form_from_elsewhere_is_refused(cast: Cast) -> None:
    door = door_of(invite(cast))
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(cast.neighbour.owner)
    assert browser.post(door).status_code == 403
    assert Invitation.objects.get().accepted_at is None


def test_guessing_is_slowed_down(cast: Cast) -> None:
    browser = browser_of()
    answers = [browser.get(f"/join/{'0' * 32}-{n}").status_code for n in range(31)]
    assert set(answers[:30]) == {404}
    assert answers[30] == 429


def test_joining_is_in_the_history(cast: Cast) -> None:
    browser_of().post(door_of(invite(cast)), NEW)
    query = {"farm": str(cast.ours.farm.pk), "kind": "farm-roles"}
    latest = client_of(cast.ours.owner).get("/api/v1/history", query).json()["results"][0]
    assert (latest["action"], latest["by"]) == ("created", NEW["email"])


def test_two_who_accept_at_once_make_one_member(committed: None) -> None:
    cast = make_cast()
    people = [make_person(f"racer{n}@elsewhere.example") for n in range(4)]
    key = door_of(invite(cast)).removeprefix("/join/")

    def accept(person: Person) -> bool:
        try:
            return invitations.join(key, person) is not None
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        outcomes = list(pool.map(accept, people))
    assert sorted(outcomes) == [False, False, False, True]
    assert FarmRole.objects.filter(person__in=people).count() == 1


# Mail --------------------------------------------------------------------------------------------


def run_jobs() -> None:
    for job in Job.objects.filter(kind=invitations.MAIL):
        invitations.send_mail(job.key)  # type: ignore[arg-type]  # as text, which the query takes
        job.delete()


def test_without_a_mail_server_the_answer_says_to_copy_the_link(cast: Cast) -> None:
    made = invite(cast, email="ines@farm.example").json()
    assert made["delivery"] == "No mail server is set up: copy the link and hand it over yourself."
    assert not Job.objects.filter(kind=invitations.MAIL).exists()


def test_the_mailed_link_opens_the_same_invitation(cast: Cast, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    made = invite(cast, email="ines@farm.example")
    assert made.json()["delivery"].startswith("The link is mailed to ines@farm.example.")
    assert "-" not in str(Job.objects.get(kind=invitations.MAIL).payload)
    run_jobs()
    (sent,) = mail.outbox
    assert sent.to == ["ines@farm.example"]
    found = re.search(r"http://127.0.0.1:8000(/join/\S+)", sent.body)
    assert found is not None
    assert browser_of().get(found[1]).status_code == 200
    assert browser_of().get(door_of(made)).status_code == 200
    assert Invitation.objects.get().mailed_at is not None
    client_of(cast.ours.owner).post(f"{PATH}/{made.json()['id']}/resend")
    assert browser_of().get(found[1]).status_code == 404


def test_no_mail_goes_out_for_a_revoked_invitation(cast: Cast, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    invite(cast, email="ines@farm.example")
    invitations.revoke(Invitation.objects.all())
    run_jobs()
    assert mail.outbox == []


def test_the_jobs_of_mail_have_their_handlers() -> None:
    import records.tasks  # noqa: F401 - registers them

    assert {invitations.MAIL, "password-mail"} <= set(jobs._handlers)
