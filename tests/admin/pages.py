"""Addresses, rows and forms of the web admin, for every kind of record."""

import re
from html import unescape
from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.forms import MultiWidget
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records import models
from tests.api import resources
from tests.cast import Place, make_person

# What the API has no resource for.
OTHERS: dict[type[Model], Any] = {
    models.CoOpRole: lambda place, n: models.CoOpRole.objects.create(
        co_op=resources.co_op_of(place), person=make_person(f"staff{n}@{place.farm.code}.example")
    ),
    models.Person: lambda place, n: (
        models.FarmRole.objects.create(
            farm=place.farm,
            person=make_person(f"helper{n}@{place.farm.code}.example"),
            role="worker",
        ).person
    ),
    models.FileLayout: lambda place, n: models.FileLayout.objects.create(
        farm=place.farm, series=f"series {n}", mapping={"Peso": "weight"}
    ),
    models.ImportProblem: lambda place, n: models.ImportProblem.objects.create(
        farm=place.farm,
        harvest_import=resources.make_import(place, n),
        row=n,
        code="not-a-number",
        detail="This is no number.",
    ),
    models.ProposedChange: lambda place, n: models.ProposedChange.objects.create(
        farm=place.farm,
        harvest_import=resources.make_import(place, n),
        kind="added",
        row=n,
        after={
            "picked_on": "2026-09-10",
            "block": "N1",
            "grade": None,
            "weight": 20,
            "unit": "kg",
        },
    ),
    models.Job: lambda place, n: models.Job.objects.create(
        kind="farm-changed", key=f"{place.farm.pk} {n}"
    ),
}
MODELS: list[type[Model]] = sorted(admin.site._registry, key=lambda model: model._meta.label)


def row_of(model: type[Model], place: Place, number: int = 1) -> Any:
    """A new row of a kind, on a place."""
    if model in OTHERS:
        return OTHERS[model](place, number)
    return resources.record_of(model, place, number)


def list_of(model: type[Model]) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist")


def page_of(record: Model, page: str = "change") -> str:
    meta = record._meta
    return reverse(f"admin:{meta.app_label}_{meta.model_name}_{page}", args=[record.pk])


def add_to(model: type[Model]) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_add")


def text_of(response: HttpResponse) -> str:
    """What a page says, without its markup."""
    bare = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(bare))


def sent(client: Client, address: str, **values: Any) -> Any:
    """Send a form as the browser would: what the page offers, with some values changed."""
    form = client.get(address).context["adminform"].form
    body = {name: value for name, value in initial(form).items() if value is not None}
    return client.post(address, {**body, **inlines(client, address), **values})


def initial(form: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, field in form.fields.items():
        value = form[name].value()
        if isinstance(field.widget, MultiWidget):
            parts = enumerate(field.widget.decompress(value))
            found |= {f"{name}_{number}": part for number, part in parts}
        else:
            found[name] = _as_sent(value)
    return found


def inlines(client: Client, address: str) -> dict[str, Any]:
    """The counters of a page's inline rows, all of them left as they are."""
    found: dict[str, Any] = {}
    for inline in client.get(address).context["inline_admin_formsets"]:
        forms = inline.formset
        for form in [forms.management_form, *forms.initial_forms]:
            found |= {
                form.add_prefix(name): value
                for name, value in initial(form).items()
                if value not in (None, "")
            }
    return found


def _as_sent(value: Any) -> Any:
    if value is False:
        return None
    if isinstance(value, list | tuple):
        return [str(getattr(each, "pk", each)) for each in value]
    return getattr(value, "pk", value)


def faults(response: HttpResponse) -> dict[str, list[str]]:
    """What a page's form was refused for, by field."""
    assert response.status_code == 200, "the form was accepted"
    return dict(response.context["adminform"].form.errors)
