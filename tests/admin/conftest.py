import datetime as dt

import pytest
from django.test import Client

from records.models import CoOp, CoOpRole, Membership, Person
from tests.cast import Cast, make_cast, make_person


def enter(person: Person) -> Client:
    """A browser in which a person has signed in to the web admin, and may be there."""
    Person.objects.filter(pk=person.pk).update(is_staff=True)
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def cast(db: None) -> Cast:
    """The fixed cast; the neighbour is a member of another co-op, with staff of its own."""
    cast = make_cast()
    theirs = CoOp.objects.create(code="THEIRS", name="The other co-op")
    Membership.objects.create(
        co_op=theirs, farm=cast.neighbour.farm, starts_on=dt.date(2020, 1, 1), shares="all"
    )
    CoOpRole.objects.create(co_op=theirs, person=make_person("staff@other.example"))
    return cast


@pytest.fixture
def admin(cast: Cast) -> Client:
    """A platform admin's browser."""
    return enter(cast.admin)


@pytest.fixture
def staff(cast: Cast) -> Client:
    """The browser of our co-op's staff."""
    return enter(cast.staff)


@pytest.fixture
def owner(cast: Cast) -> Client:
    """Our farmer's browser."""
    return enter(cast.ours.owner)
