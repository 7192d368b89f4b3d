"""A forgotten password: the same answer for everyone, a link that works once, sessions that end."""

import re
from typing import Any

import pytest
from django.core import mail
from django.core.cache import cache
from django.test import Client

from orchard import clock
from records.models import CoOpRole, FarmRole, Job, Person
from records.services import passwords
from records.services.callers import caller_for_person
from tests.cast import Cast

PASSWORD, NEW = "figs and honey 1935", "soursop by the lantern 77"


@pytest.fixture(autouse=True)
def _nobody_tried_before() -> None:
    cache.clear()


@pytest.fixture
def grower(cast: Cast) -> Person:
    cast.worker.set_password(PASSWORD)
    cast.worker.save()
    return cast.worker


def ask(email: str) -> Any:
    return Client().post("/password", {"email": email}, follow=True)


def run_jobs() -> None:
    for job in Job.objects.filter(kind=passwords.MAIL):
        passwords.send_mail(job.key)  # type: ignore[arg-type]  # as text, which the query takes
        job.delete()


def mailed_link() -> str:
    (sent,) = mail.outbox
    found = re.search(r"http://127.0.0.1:8000(/password/\S+)", sent.body)
    assert found is not None
    return found[1]


def choose(browser: Client, link: str, password: str = NEW) -> Any:
    form = browser.get(link, follow=True)
    where = form.request["PATH_INFO"]
    return browser.post(where, {"new_password1": password, "new_password2": password}, follow=True)


def test_both_login_pages_lead_there(cast: Cast) -> None:
    for page in ("/login", "/admin/login/"):
        assert 'href="/password"' in Client().get(page).content.decode()


def test_the_answer_is_the_same_whether_the_account_exists(grower: Person, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    known, unknown = ask("WORKER@ours.example"), ask("nobody@ours.example")
    assert known.redirect_chain == unknown.redirect_chain == [("/password/sent", 302)]
    assert known.content == unknown.content
    assert Job.objects.filter(kind=passwords.MAIL).count() == 1


def test_a_new_password_ends_every_session(grower: Person, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    elsewhere = Client()
    assert elsewhere.login(username=grower.email, password=PASSWORD)
    ask(grower.email)
    run_jobs()
    answer = choose(Client(), mailed_link())
    assert "The new password holds" in answer.content.decode()
    assert elsewhere.get("/").status_code == 302
    assert elsewhere.get("/api/v1/me").status_code == 401
    assert Client().login(username=grower.email, password=NEW)


def test_a_link_works_once(grower: Person, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    ask(grower.email)
    run_jobs()
    link = mailed_link()
    choose(Client(), link)
    answer = Client().get(link, follow=True)
    assert "This link no longer works" in answer.content.decode()
    assert not Client().login(username=grower.email, password=PASSWORD)


def test_without_a_mail_server_the_page_says_whom_to_ask(grower: Person) -> None:
    for answer in (Client().get("/password"), ask(grower.email)):
        assert "Ask the owner or manager of your farm" in answer.content.decode()
    assert not Job.objects.filter(kind=passwords.MAIL).exists()


def test_a_weak_password_is_refused(grower: Person) -> None:
    link = passwords.link_for(grower).removeprefix("http://127.0.0.1:8000")
    answer = choose(Client(), link, "12345678")
    assert "entirely numeric" in answer.content.decode()


def test_asking_again_and_again_is_slowed_down(grower: Person, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    answers = [Client().post("/password", {"email": grower.email}).status_code for _ in range(31)]
    assert set(answers[:30]) == {302}
    assert answers[30] == 429


@pytest.mark.long
def test_guessing_a_password_is_slowed_down(grower: Person) -> None:
    body = {"username": grower.email, "password": "wrong"}
    answers = [Client().post("/login", body).status_code for _ in range(31)]
    assert set(answers[:30]) == {200}
    assert answers[30] == 429


@pytest.mark.parametrize(
    ("who", "of", "may"),
    [
        ("admin", "worker", True),
        ("admin", "staff", True),
        ("manager", "worker", True),
        ("manager", "admin", False),
        ("manager", "staff", False),
        ("worker", "manager", False),
        ("staff", "worker", False),
        ("staff", "colleague", True),
    ],
)
def test_who_may_hand_a_person_a_link(who: str, of: str, may: bool, cast: Cast) -> None:
    person: Person = getattr(cast, of, cast.staff)
    caller = caller_for_person(getattr(cast, who), clock.today("UTC"))
    assert passwords.may_reset(caller, person) is may


def test_nobody_of_one_farm_hands_over_an_account_that_opens_another(cast: Cast) -> None:
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.worker, role="worker")
    caller = caller_for_person(cast.manager, clock.today("UTC"))
    assert not passwords.may_reset(caller, cast.worker)
    FarmRole.objects.filter(farm=cast.neighbour.farm, person=cast.worker).delete()
    CoOpRole.objects.create(co_op=cast.co_op, person=cast.worker)
    assert not passwords.may_reset(caller, cast.worker)
