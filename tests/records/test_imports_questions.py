"""What a file does not tell is asked, answered and, if so wished, remembered."""

from typing import Any

import pytest

from orchard.access import Caller
from records.choices import ImportState
from records.models import FileLayout, HarvestImport, Job
from records.services.imports import ImportConflictError, discard, read_again
from tests.cast import Cast, Place, make_cast
from tests.records.sending import bring_in, counts, send, weights

pytestmark = pytest.mark.django_db

HEADINGS = ["Date", "Block", "Kilos"]
# Third of April or fourth of March; one kilo and a bit or more than a tonne.
UNCLEAR_DATE = [HEADINGS, ["03/04/2026", "N1", "12.5"]]
UNCLEAR_NUMBER = [HEADINGS, ["2026-04-03", "N1", "1.234"]]
OWN_WORDS = [["Picked", "Block", "Kilos"], ["2026-04-03", "N1", "12.5"]]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def ours(cast: Cast) -> Place:
    return cast.ours


def answer(sent: HarvestImport, **answers: Any) -> HarvestImport:
    read_again(sent, caller=Caller(name="owner", is_platform_admin=True), **answers)
    return bring_in(sent)


@pytest.mark.parametrize(
    ("rows", "setting", "value", "example"),
    [
        (UNCLEAR_DATE, "date_order", "day-month-year", "03/04/2026"),
        (UNCLEAR_NUMBER, "decimal_mark", ",", "1.234"),
        ([["Date", "Block", "Weight"], ["2026-04-03", "N1", "12.5"]], "unit", "lb", "12.5"),
        (OWN_WORDS, "mapping", {"Picked": "picked_on"}, "Picked"),
    ],
)
def test_the_import_asks_and_goes_on_when_answered(
    ours: Place, rows: Any, setting: str, value: Any, example: str
) -> None:
    sent = send(ours.farm, rows)
    assert (sent.state, weights(ours.farm)) == (ImportState.QUESTION, [])
    [question] = sent.questions
    assert question["setting"] == setting
    assert example in [one["value"] for one in question["examples"]]
    answered = answer(sent, **{setting: value})
    assert (answered.state, counts(answered)) == (ImportState.LANDED, (1, 0, 0, 0))
    assert answered.questions == []


def test_the_answer_decides_what_lands(ours: Place) -> None:
    answer(send(ours.farm, UNCLEAR_DATE), date_order="month-day-year")
    answer(send(ours.farm, UNCLEAR_NUMBER), decimal_mark=",")
    first, second = weights(ours.farm)
    assert first.picked_on.isoformat() == "2026-03-04"
    assert second.net_g == 1_234_000


def test_the_farms_own_settings_answer_in_advance(ours: Place) -> None:
    ours.farm.date_order, ours.farm.decimal_mark = "day-month-year", "."
    ours.farm.save()
    assert send(ours.farm, UNCLEAR_DATE).state == ImportState.LANDED
    assert weights(ours.farm)[0].picked_on.isoformat() == "2026-04-03"


def test_the_settings_of_a_series_go_before_the_farms(ours: Place) -> None:
    ours.farm.date_order = "day-month-year"
    ours.farm.save()
    FileLayout.objects.create(farm=ours.farm, series="harvest", date_order="month-day-year")
    send(ours.farm, UNCLEAR_DATE)
    send(ours.farm, UNCLEAR_DATE, series="another")
    assert [w.picked_on.isoformat() for w in weights(ours.farm)] == ["2026-03-04", "2026-04-03"]


def test_a_saved_setting_never_overrides_the_file(ours: Place) -> None:
    FileLayout.objects.create(farm=ours.farm, series="harvest", date_order="month-day-year")
    send(ours.farm, [*UNCLEAR_DATE, ["23/04/2026", "N1", "12.5"]])
    assert [w.picked_on.isoformat() for w in weights(ours.farm)] == ["2026-04-03", "2026-04-23"]


def test_answers_are_remembered_for_the_series(ours: Place) -> None:
    mapped = [["Picked", "Block", "Kilos"], ["03/04/2026", "N1", "12.5"]]
    sent = answer(
        send(ours.farm, mapped),
        mapping={"Picked": "picked_on"},
        date_order="day-month-year",
        remember=True,
    )
    assert sent.state == ImportState.LANDED
    layout = FileLayout.objects.get(farm=ours.farm, series="harvest")
    assert (layout.mapping, layout.date_order) == ({"Picked": "picked_on"}, "day-month-year")
    assert (layout.decimal_mark, layout.unit) == ("", "")
    assert send(ours.farm, mapped).state == ImportState.LANDED
    assert send(ours.farm, mapped, series="another").state == ImportState.QUESTION


def test_answers_are_not_remembered_before_they_proved_right(ours: Place) -> None:
    wrong = [HEADINGS, ["03/04/2026", "N9", "12.5"]]
    sent = answer(send(ours.farm, wrong), date_order="day-month-year", remember=True)
    assert sent.state == ImportState.REFUSED
    assert not FileLayout.objects.exists()


def test_remembering_keeps_what_was_known_before(ours: Place) -> None:
    FileLayout.objects.create(farm=ours.farm, series="harvest", unit="lb", mapping={"X": "note"})
    answer(send(ours.farm, UNCLEAR_DATE), date_order="day-month-year", remember=True)
    layout = FileLayout.objects.get(farm=ours.farm, series="harvest")
    assert (layout.unit, layout.mapping) == ("lb", {"X": "note"})


def test_a_refused_import_lands_once_its_wrong_rows_are_left_out(ours: Place) -> None:
    rows = [HEADINGS, ["2026-09-10", "N1", 20], ["2026-09-10", "N9", 20]]
    sent = send(ours.farm, rows)
    assert sent.state == ImportState.REFUSED
    assert counts(answer(sent, on_problem="skip")) == (1, 0, 0, 1)


def test_a_dry_run_lands_when_it_is_none_any_more(ours: Place) -> None:
    sent = send(ours.farm, [HEADINGS, ["2026-09-10", "N1", 20]], dry_run=True)
    assert answer(sent, dry_run=False).state == ImportState.LANDED


def test_a_landed_import_is_not_read_again(ours: Place) -> None:
    sent = send(ours.farm, [HEADINGS, ["2026-09-10", "N1", 20]])
    with pytest.raises(ImportConflictError, match="landed"):
        answer(sent, dry_run=True)


def test_an_import_under_way_is_left_alone(ours: Place) -> None:
    sent = send(ours.farm, UNCLEAR_DATE)
    read_again(sent, caller=Caller(name="owner", is_platform_admin=True))
    assert Job.objects.filter(key=str(sent.pk)).count() == 1
    with pytest.raises(ImportConflictError, match="being read"):
        read_again(sent, caller=Caller(name="owner", is_platform_admin=True))


def test_an_import_whose_job_was_lost_can_be_started_again(ours: Place) -> None:
    sent = send(ours.farm, [HEADINGS, ["2026-09-10", "N1", 20]], dry_run=True)
    HarvestImport.objects.filter(pk=sent.pk).update(state=ImportState.READING)
    sent.refresh_from_db()
    assert answer(sent, dry_run=False).state == ImportState.LANDED


def test_an_import_that_left_nothing_behind_can_be_thrown_away(ours: Place) -> None:
    discard(send(ours.farm, UNCLEAR_DATE))
    assert not HarvestImport.objects.exists()
    landed = send(ours.farm, [HEADINGS, ["2026-09-10", "N1", 20]])
    with pytest.raises(ImportConflictError, match="undo it first"):
        discard(landed)
