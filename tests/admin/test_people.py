"""People are set up by platform admins, with their roles on the same page."""

import pytest
from django.test import Client

from records.models import CoOpRole, FarmRole, Person
from tests.admin.pages import add_to, faults, list_of, page_of, sent, text_of
from tests.cast import Cast

PASSWORD = "figs and honey 1935"


def join(admin: Client, email: str, **values: str) -> Person:
    body = {"name": "Newcomer", "password1": PASSWORD, "password2": PASSWORD, **values}
    assert sent(admin, add_to(Person), email=email, **body).status_code == 302
    return Person.objects.get(email=email)


def test_a_person_joins_and_signs_in(admin: Client) -> None:
    person = join(admin, "new@farm.example")
    assert person.password != PASSWORD
    assert not person.is_staff
    assert Client().login(username="NEW@farm.example", password=PASSWORD)


def test_roles_are_given_on_the_page_of_a_person(admin: Client, cast: Cast) -> None:
    person = join(admin, "new@farm.example")
    body = {
        "farm_roles-TOTAL_FORMS": "1",
        "farm_roles-0-farm": str(cast.ours.farm.pk),
        "farm_roles-0-role": "worker",
        "co_op_roles-TOTAL_FORMS": "1",
        "co_op_roles-0-co_op": str(cast.co_op.pk),
    }
    assert sent(admin, page_of(person), **body).status_code == 302
    assert FarmRole.objects.get(person=person).role == "worker"
    assert CoOpRole.objects.get(person=person).co_op == cast.co_op


def test_one_farm_gives_a_person_one_role(admin: Client, cast: Cast) -> None:
    body = {
        "farm_roles-TOTAL_FORMS": "2",
        "farm_roles-1-farm": str(cast.ours.farm.pk),
        "farm_roles-1-role": "adviser",
    }
    answer = sent(admin, page_of(cast.worker), **body)
    assert answer.status_code == 200
    assert "already exists" in text_of(answer) or "duplicate" in text_of(answer)
    assert FarmRole.objects.get(person=cast.worker).role == "worker"


def test_an_address_in_other_capitals_is_the_same_address(admin: Client, cast: Cast) -> None:
    body = {"email": "WORKER@ours.example", "password1": PASSWORD, "password2": PASSWORD}
    assert list(faults(sent(admin, add_to(Person), **body))) == ["email"]
    assert list(faults(sent(admin, page_of(cast.adviser), email="Worker@ours.example"))) == [
        "email"
    ]


def test_a_weak_password_is_refused(admin: Client) -> None:
    body = {"email": "new@farm.example", "password1": "12345678", "password2": "12345678"}
    assert list(faults(sent(admin, add_to(Person), **body))) == ["password2"]


def test_a_password_is_set_anew(admin: Client, cast: Cast) -> None:
    body = {"password1": PASSWORD, "password2": PASSWORD, "usable_password": "true"}
    answer = admin.post(f"/admin/records/person/{cast.worker.pk}/password/", body)
    assert answer.status_code == 302
    assert Client().login(username="worker@ours.example", password=PASSWORD)


def test_no_password_is_in_the_history(admin: Client) -> None:
    person = join(admin, "new@farm.example")
    text = text_of(admin.get(page_of(person, "history")))
    assert "Admin created" in text
    assert "pbkdf2" not in text


def test_nobody_becomes_a_platform_admin_without_one(
    owner: Client, staff: Client, cast: Cast
) -> None:
    for client, person in ((owner, cast.ours.owner), (staff, cast.staff)):
        body = {"email": person.email, "is_superuser": "on", "is_staff": "on"}
        assert client.post(page_of(person), body).status_code == 403
        password = f"/admin/records/person/{cast.admin.pk}/password/"
        assert client.post(password, {"password1": PASSWORD}).status_code in {302, 403, 404}
    assert set(Person.objects.filter(is_superuser=True)) == {cast.admin}


def test_a_farmer_sees_who_works_on_the_farm_by_name(owner: Client, cast: Cast) -> None:
    found = owner.get(list_of(Person))
    assert set(found.context["cl"].queryset) == {
        cast.ours.owner,
        cast.manager,
        cast.worker,
        cast.adviser,
    }
    page = owner.get(page_of(cast.worker)).content.decode()
    assert "worker@ours.example" in page
    assert "is_superuser" not in page
    assert 'name="password' not in page


@pytest.mark.parametrize("query", [{"password__startswith": "p"}, {"is_superuser__exact": "1"}])
def test_nothing_about_people_is_found_out_by_address(owner: Client, query: dict[str, str]) -> None:
    assert owner.get(list_of(Person), query).status_code == 400


def test_people_are_not_deleted(admin: Client, cast: Cast) -> None:
    assert admin.post(page_of(cast.worker, "delete"), {"post": "yes"}).status_code == 403
