"""A farm's hours of flowers and its working hours in the web admin."""

from typing import Any

import pytest
from django.test import Client

from planning.models import FlowerHours, ScheduleSetting
from records.models import Species
from tests.admin.pages import add_to, faults, page_of, row_of, sent
from tests.cast import Cast


def choose(client: Client, cast: Cast, **values: str) -> Any:
    kind = Species.objects.get(code="cherimoya")
    body = {"farm": str(cast.ours.farm.pk), "species": str(kind.pk), **values}
    return sent(client, add_to(FlowerHours), **body)


def test_an_owner_chooses_a_source(owner: Client, cast: Cast) -> None:
    answer = choose(owner, cast, shipped_source="melo-2002")
    assert answer.status_code == 302
    assert FlowerHours.objects.get().shipped_source == "melo-2002"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"shipped_source": "web-article"}, "No source web-article ships for cherimoya"),
        (
            {
                "brush_from": "sunrise",
                "brush_from_minutes": "0",
                "brush_to": "solar-noon",
                "brush_to_minutes": "-360",
            },
            "end before they begin",
        ),
        ({}, "Name a source that ships, or give hours of your own"),
    ],
)
def test_what_makes_no_sense_is_refused_at_the_form(
    owner: Client, cast: Cast, values: dict[str, str], words: str
) -> None:
    refused = faults(choose(owner, cast, **values))
    assert words in str(refused)
    assert not FlowerHours.objects.exists()


def test_hours_stay_with_their_species(owner: Client, cast: Cast) -> None:
    row = row_of(FlowerHours, cast.ours)
    sent(owner, page_of(row), species=str(Species.objects.get(code="soursop").pk), source="Note.")
    row.refresh_from_db()
    assert (row.species.code, row.source) == ("annona-hours-1", "Note.")


def test_working_hours_are_entered_with_the_schedule(owner: Client, cast: Cast) -> None:
    row = row_of(ScheduleSetting, cast.ours)
    refused = faults(sent(owner, page_of(row), works_from="14:00", works_until="06:00"))
    assert "Work ends after it starts" in str(refused)
    assert sent(owner, page_of(row), works_from="06:00", works_until="14:30").status_code == 302
