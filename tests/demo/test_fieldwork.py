"""What the demo's people did in the field, and what is due next on its farms."""

from datetime import date
from typing import Any

import pytest

from orchard.demo import load, outlook
from orchard.demo.cast import Cast
from orchard.demo.cast_files import read_cast
from orchard.demo.fieldwork import fieldwork
from planning.queries.due import due_next
from planning.services.schedules import rebuild_schedule
from planning.services.stage_forecasts import rebuild_forecasts
from records.models import CoOp, Farm


@pytest.mark.parametrize("as_of", [date(2026, 2, 10), date(2026, 5, 20), date(2026, 11, 20)])
def test_nothing_is_done_after_the_casts_day(as_of: date) -> None:
    deeds = fieldwork(read_cast(as_of))
    assert deeds
    assert max(deed.on for deed in deeds) <= as_of
    assert deeds == fieldwork(read_cast(as_of))


def test_every_farm_prunes_and_pollinates(cast: Cast) -> None:
    deeds = fieldwork(cast)
    for what in ("pruning", "visit", "stage", "count"):
        assert {deed.farm for deed in deeds if deed.what == what} == {f.code for f in cast.farms}


@pytest.mark.django_db
@pytest.mark.long
def test_every_farm_is_told_what_is_due_next_and_why(settings: Any) -> None:
    settings.AS_OF = date(2026, 5, 20)
    cast = read_cast(settings.AS_OF)
    load.load_records(cast, "only for this test")
    for farm in Farm.objects.all():
        rebuild_forecasts(farm.pk, settings.AS_OF)
        rebuild_schedule(farm.pk, settings.AS_OF)
        due = due_next(farm.pk, limit=3)
        assert len(due) == 3
        assert [task.best_on for task in due] == sorted(task.best_on for task in due)
        assert all(task.reason.endswith(".") for task in due)
    text = outlook.outlook(CoOp.objects.get())
    assert text.count("Tasks due next") == len(cast.farms)
    assert "Last pollination so far on" in text
