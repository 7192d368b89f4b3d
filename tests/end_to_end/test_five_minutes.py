"""A platform admin sets up a farm of 300 trees from a workbook and invites its grower."""

import datetime as dt
import re
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from records.models import Person
from tests.importing.making import as_xlsx
from tests.records.workbooks import FARM

ADMIN, GROWER = "figs and honey 1935", "soursop by the lantern 77"
WORKBOOK = "/admin/records/farm/workbook/"


def send(browser: Client, *, dry_run: bool) -> str:
    file = SimpleUploadedFile("lantern.xlsx", as_xlsx(FARM))
    values = {"file": file, "csrfmiddlewaretoken": token_of(browser, WORKBOOK)}
    return body_of(browser.post(WORKBOOK, {**values, **({"dry_run": "on"} if dry_run else {})}))


def token_of(browser: Client, address: str) -> str:
    found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', body_of(browser.get(address)))
    assert found is not None
    return found[1]


def body_of(answer: Any) -> str:
    assert answer.status_code == 200
    return str(answer.content.decode())


@pytest.fixture
def admin(db: None, settings: Any) -> Client:
    """Signed in through the login page, with CSRF checked as a browser would have it."""
    settings.AS_OF = dt.date(2026, 9, 12)
    cache.clear()
    Person.objects.create_superuser("admin@platform.example", ADMIN)
    browser = Client(enforce_csrf_checks=True)
    values = {"username": "admin@platform.example", "password": ADMIN}
    form = {**values, "csrfmiddlewaretoken": token_of(browser, "/login")}
    assert browser.post("/login", form).status_code == 302
    return browser


def test_a_farm_of_300_trees_and_its_grower_in_five_minutes(admin: Client) -> None:
    # The admin has a workbook looked at, then stores it, and copies the grower's link.
    assert "nothing was stored" in send(admin, dry_run=True)
    link = re.search(r"http://127\.0\.0\.1:8000(/join/[\w-]+)", send(admin, dry_run=False))
    assert link is not None

    # The grower opens it, gives name and password, and is signed in.
    grower = Client(enforce_csrf_checks=True)
    form = {
        "csrfmiddlewaretoken": token_of(grower, link[1]),
        "name": "Ines Varela",
        "email": "ines@lantern.example",
        "password": GROWER,
        "again": GROWER,
    }
    welcome = body_of(grower.post(link[1], form, follow=True))
    assert "Lantern slope (LANT): owner" in welcome

    # All the trees are there, in the web admin and for the grower's own front end.
    assert "300 trees" in body_of(grower.get("/admin/records/tree/"))
    first = grower.get("/api/v1/trees", {"page_size": 500}).json()
    assert (len(first["results"]), first["next"]) == (300, None)

    # Signing in again next day works as well.
    again = Client(enforce_csrf_checks=True)
    values = {"username": "ines@lantern.example", "password": GROWER}
    token = {"csrfmiddlewaretoken": token_of(again, "/login")}
    assert "Lantern slope" in body_of(again.post("/login", {**values, **token}, follow=True))
