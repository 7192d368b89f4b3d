"""`stage-forecasts` and `stage-backtests`, as apps and people ask for them."""

import datetime as dt
from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.services.stage_forecasts import rebuild_forecasts
from records.models import GrowthStage, TaskLog
from tests.cast import Cast, Place, client_of, client_with

FORECASTS, BACKTESTS = "/api/v1/stage-forecasts", "/api/v1/stage-backtests"
TODAY = dt.date(2026, 6, 1)


def on(month: int, day: int, year: int = 2026) -> dt.date:
    return dt.date(year, month, day)


def prune(place: Place, done_on: dt.date) -> None:
    TaskLog.objects.create(farm=place.farm, block=place.block, kind="pruning", done_on=done_on)


def see(place: Place, bbch: str, observed_on: dt.date) -> None:
    GrowthStage.objects.create(
        farm=place.farm,
        block=place.block,
        bbch=bbch,
        observed_on=observed_on,
        trees_seen=1,
        trees_looked_at=1,
    )


@pytest.fixture
def owner(cast: Cast, settings: Any) -> APIClient:
    settings.AS_OF = TODAY
    type(cast.ours.farm).objects.filter(pk=cast.ours.farm.pk).update(latitude=32.7, longitude=-17)
    for year in (2023, 2024, 2025):
        prune(cast.ours, on(3, 3 + year - 2023, year))
        see(cast.ours, "60", on(5, 2 + 2 * (year - 2023), year))
    see(cast.ours, "60", on(5, 12))
    rebuild_forecasts(cast.ours.farm.pk, TODAY)
    return client_of(cast.ours.owner)


def rows(client: APIClient, address: str, **query: Any) -> list[dict[str, Any]]:
    answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    found: list[dict[str, Any]] = answer.json()["results"]
    return found


def refusal(client: APIClient, address: str, **query: Any) -> tuple[int, str]:
    answer = client.get(address, query)
    return answer.status_code, answer.json()["detail"]


def test_a_forecast_answers_with_its_interval_and_its_reason(owner: APIClient, cast: Cast) -> None:
    (row,) = rows(owner, FORECASTS, block=cast.ours.block.pk, season="2026", stage="end-of-bloom")
    assert (row["block_code"], row["crop_name"], row["bbch"]) == ("N1", "main", 69)
    assert row["low_on"] <= row["on_date"] <= row["high_on"]
    assert row["reason"].startswith("First bloom seen 12 May.")
    assert row["inputs"]["species_source"]


def test_a_seen_stage_tells_what_had_been_expected(owner: APIClient) -> None:
    (row,) = rows(owner, FORECASTS, season=2026, stage="first-bloom")
    assert (row["method"], row["observed_on"]) == ("observed", "2026-05-12")
    # Pruned on 3 March, as the crop says: 60, 61 and 62 days.
    assert row["expected_on"] == "2026-05-03"
    assert row["expected_low_on"] < row["expected_on"] < row["expected_high_on"]


def test_what_has_no_date_says_why(owner: APIClient) -> None:
    (row,) = rows(owner, FORECASTS, season=2027, stage="leaf-out")
    assert (row["method"], row["on_date"], row["low_on"]) == ("not-known", None, None)
    assert "the season begins 1 January 2027" in row["reason"]


def test_forecasts_are_found_by_date_and_method(owner: APIClient) -> None:
    found = rows(owner, FORECASTS, on_date_after="2026-06-01", on_date_before="2026-12-31")
    assert found
    assert all("2026-06-01" <= row["on_date"] <= "2026-12-31" for row in found)
    assert {row["method"] for row in rows(owner, FORECASTS, method="history")} == {"history"}


def test_forecasts_come_as_csv(owner: APIClient) -> None:
    answer = owner.get(FORECASTS, {"season": 2026, "format": "csv"})
    heading, *lines = answer.content.decode().splitlines()
    assert "on_date,low_on,high_on" in heading
    assert len(lines) == 7


def test_nobody_writes_a_forecast(owner: APIClient, cast: Cast) -> None:
    (row,) = rows(owner, FORECASTS, season=2026, stage="half-bloom")
    assert owner.patch(f"{FORECASTS}/{row['id']}", {"on_date": "2026-06-01"}).status_code == 405
    assert owner.post(FORECASTS, {"farm": str(cast.ours.farm.pk)}).status_code == 405


def test_apps_with_the_schedule_see_forecasts_and_others_do_not(
    owner: APIClient, cast: Cast
) -> None:
    assert rows(client_with(cast.ours.farm, "schedule:read"), FORECASTS, season=2026)
    assert client_with(cast.ours.farm, "records:read").get(FORECASTS).status_code == 403
    assert rows(client_of(cast.neighbour.owner), FORECASTS) == []


# Back-testing ------------------------------------------------------------------------------------


def backtest(client: APIClient, cast: Cast, **query: Any) -> dict[str, Any]:
    answer = client.get(BACKTESTS, {"farm": str(cast.ours.farm.pk), **query})
    assert answer.status_code == 200, answer.content
    found: dict[str, Any] = answer.json()
    return found


def test_a_past_season_is_forecast_again_on_each_date(owner: APIClient, cast: Cast) -> None:
    found = backtest(owner, cast, season=2025, stage="first-bloom", every_days=1)
    assert {row["observed_on"] for row in found["results"]} == {"2025-05-06"}
    before, after = (
        next(row for row in found["results"] if row["made_on"] == made_on)
        for made_on in ("2025-03-04", "2025-03-05")
    )
    # Before pruning the block's two seasons speak; from then on the days since.
    assert (before["method"], after["method"]) == ("history", "shrunk")
    assert after["error_days"] == (dt.date.fromisoformat(after["on_date"]) - on(5, 6, 2025)).days
    assert after["days_ahead"] == 62
    assert found["results"][-1]["made_on"] == "2025-05-05"


def test_no_forecast_of_the_past_knows_a_later_season(owner: APIClient, cast: Cast) -> None:
    first = backtest(owner, cast, season=2023, stage="first-bloom", every_days=1)["results"]
    assert {row["method"] for row in first} == {"species"}
    assert {row["made_on"] < "2023-05-02" for row in first} == {True}


def test_the_summary_scores_what_is_listed(owner: APIClient, cast: Cast) -> None:
    found = backtest(owner, cast, season=2025)
    score = next(each for each in found["summary"] if each["stage"] == "first-bloom")
    listed = [row for row in found["results"] if row["stage"] == "first-bloom"]
    assert score["forecasts"] == len(listed) > 5
    errors = [abs(row["error_days"]) for row in listed]
    assert score["mean_absolute_error_days"] == pytest.approx(sum(errors) / len(errors), abs=0.01)
    held = [row["is_held"] for row in listed]
    assert score["held_share"] == pytest.approx(sum(held) / len(held), abs=1e-4)


def test_backtests_come_as_csv(owner: APIClient, cast: Cast) -> None:
    query = {"farm": str(cast.ours.farm.pk), "season": 2025, "format": "csv"}
    heading, *lines = owner.get(BACKTESTS, query).content.decode().splitlines()
    assert "made_on,on_date,low_on,high_on,observed_on,days_ahead,error_days" in heading
    assert lines


def test_more_than_can_be_waited_for_is_refused(
    owner: APIClient, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planning.services.stage_backtests.MOST", 10)
    status, detail = refusal(owner, BACKTESTS, farm=cast.ours.farm.pk)
    assert status == 422
    assert "name a block or a season, or take dates further apart" in detail


def test_a_block_of_another_farm_is_none_of_this_one(owner: APIClient, cast: Cast) -> None:
    other = client_of(cast.admin)
    query = {"farm": cast.ours.farm.pk, "block": cast.neighbour.block.pk}
    assert refusal(other, BACKTESTS, **query) == (422, "block: This block belongs to another farm.")
    assert refusal(owner, BACKTESTS, **query) == (422, "block: There is no such record.")
