"""Task logs, growth stages and trunk girths."""

import datetime as dt
import math
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from records.models import FruitSample, GrowthStage, TaskLog, TrunkGirth
from records.services.saving import save
from tests.cast import Cast
from tests.records.making import faults_of, make_block, make_tree

AS_OF = dt.date(2026, 6, 1)


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.AS_OF = AS_OF


def log(cast: Cast, rows: Any = None, **values: Any) -> TaskLog:
    ours = cast.ours
    work = {"farm": ours.farm, "block": ours.block, "kind": "pruning", "done_on": AS_OF}
    saved: TaskLog = save(TaskLog(**{**work, **values}), **(rows or {}))
    return saved


def stage(cast: Cast, **values: Any) -> GrowthStage:
    seen = {"farm": cast.ours.farm, "block": cast.ours.block, "observed_on": AS_OF, "bbch": "65"}
    saved: GrowthStage = save(GrowthStage(**{**seen, "tree": cast.ours.tree, **values}))
    return saved


def test_pruning_carries_its_method_and_shoot_lengths(cast: Cast) -> None:
    details = {
        "method": "heading",
        "shoots_before_cm": [90, 80.5],
        "shoots_removed_cm": [60, 40],
    }
    assert TaskLog.objects.get(pk=log(cast, details=details).pk).details == details


@pytest.mark.parametrize(
    ("kind", "details", "code", "word"),
    [
        # a detail of another kind of work
        ("weeding", {"method": "heading"}, "unknown-field", "method"),
        ("pruning", {"litres": 3}, "unknown-field", "litres"),
        ("pruning", {"method": "topiary"}, "invalid-value", "method"),
        ("pruning", {"shoots_before_cm": [-1]}, "invalid-value", "shoots_before_cm"),
        ("pruning", {"shoots_before_cm": [True]}, "invalid-value", "shoots_before_cm"),
        ("pruning", {"shoots_before_cm": []}, "invalid-value", "shoots_before_cm"),
        # more comes off than there was
        (
            "pruning",
            {"shoots_before_cm": [50], "shoots_removed_cm": [51]},
            "longer-than-the-shoot",
            "shoots_removed_cm",
        ),
        # lists of different shoots
        (
            "pruning",
            {"shoots_before_cm": [50, 60], "shoots_removed_cm": [25]},
            "shoots-differ",
            "shoots_removed_cm",
        ),
        ("pruning", {"shoots_removed_cm": [25]}, "shoots-differ", "shoots_removed_cm"),
        ("spraying", {"preharvest_days": 1.5}, "invalid-value", "preharvest_days"),
        ("irrigation", {"hours": 25}, "invalid-value", "hours"),
        ("irrigation", ["hours"], "invalid-value", "object"),
    ],
)
def test_details_are_those_of_the_kind_of_work(
    kind: str, details: Any, code: str, word: str, cast: Cast
) -> None:
    with pytest.raises(ValidationError) as caught:
        log(cast, kind=kind, details=details)
    assert faults_of(caught.value) == {"details": [code]}
    assert word in caught.value.messages[0]


def test_trees_of_a_task_stand_in_its_block(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        log(cast, {"trees": [cast.ours.tree]}, block=make_block(cast.ours))
    assert faults_of(caught.value) == {"trees": ["tree-in-another-block"]}


def test_work_on_a_removed_tree_is_a_warning(cast: Cast) -> None:
    gone = make_tree(cast.ours, 9, removed_on=dt.date(2026, 5, 1))
    work = log(cast, {"trees": [gone, cast.ours.tree]})
    assert [one["code"] for one in work.warnings] == ["tree-was-removed"]


def test_what_was_seen_on_a_removed_tree_is_a_warning(cast: Cast) -> None:
    gone = make_tree(cast.ours, 9, removed_on=dt.date(2026, 5, 1))
    on_tree = {"farm": cast.ours.farm, "tree": gone}
    girth = save(TrunkGirth(**on_tree, measured_on=AS_OF, girth_mm=250))
    sample = FruitSample(**on_tree, block=cast.ours.block, sampled_on=AS_OF, seeds=3)
    for record in (girth, save(sample), stage(cast, tree=gone)):
        found = [(one["code"], one["pointer"]) for one in record.warnings]
        assert found == [("tree-was-removed", "/tree")]
    assert stage(cast).warnings == []


def test_trees_alone_raise_the_version(cast: Cast) -> None:
    work = log(cast, {"trees": [cast.ours.tree]})
    save(work, trees=[cast.ours.tree])
    work.refresh_from_db()
    assert work.version == 1
    save(work, trees=[])
    work.refresh_from_db()
    assert (work.version, work.trees.count()) == (2, 0)


def test_several_stages_are_usual_at_once(cast: Cast) -> None:
    stages = [stage(cast, bbch=code) for code in ("35", "55", "65")]
    assert [one.principal for one in stages] == [3, 5, 6]
    assert GrowthStage.objects.count() == 3


@pytest.mark.parametrize(
    ("bbch", "codes"),
    [
        ("00", []),
        ("99", []),
        ("21", ["stage-unusual"]),  # annonas show no principal stage 2
        ("45", ["stage-unusual"]),  # nor 4: Mendes et al. 2017 saw the other eight
    ],
)
def test_stages_2_and_4_are_valid_but_odd_in_annonas(
    bbch: str, codes: list[str], cast: Cast
) -> None:
    assert [one["code"] for one in stage(cast, bbch=bbch).warnings] == codes


@pytest.mark.parametrize("make", [log, stage])
def test_tomorrow_is_refused(make: Any, cast: Cast) -> None:
    field = "done_on" if make is log else "observed_on"
    with pytest.raises(ValidationError) as caught:
        make(cast, **{field: AS_OF + dt.timedelta(days=1)})
    assert faults_of(caught.value) == {field: ["in-the-future"]}


def test_the_future_is_judged_by_the_farms_own_date(cast: Cast, settings: Any) -> None:
    """Two zones that never share a date: one of them is always a day ahead."""
    settings.AS_OF = None
    ahead, behind = "Pacific/Kiritimati", "Pacific/Pago_Pago"  # UTC+14 and UTC-11
    from orchard import clock

    day = clock.today(ahead)
    cast.ours.farm.time_zone = behind
    cast.ours.farm.save()
    assert day > clock.today(behind)
    with pytest.raises(ValidationError):
        stage(cast, observed_on=day)
    cast.ours.farm.time_zone = ahead
    cast.ours.farm.save()
    assert stage(cast, observed_on=day).observed_on == day


@pytest.mark.parametrize(
    ("girth_mm", "section_cm2"),
    [
        # C^2 / (4 pi), computed independently
        (500, 198.9437),
        (250, 49.7359),
    ],
)
def test_a_trunks_section_follows_from_its_girth(girth_mm: int, section_cm2: float) -> None:
    assert TrunkGirth(girth_mm=girth_mm).section_cm2 == pytest.approx(section_cm2, abs=5e-5)


def test_sections_of_trunks_add_up_and_diameters_do_not(cast: Cast) -> None:
    for trunk in (1, 2):
        save(
            TrunkGirth(
                farm=cast.ours.farm,
                tree=cast.ours.tree,
                trunk=trunk,
                measured_on=AS_OF,
                girth_mm=250,
            )
        )
    total = sum(girth.section_cm2 for girth in cast.ours.tree.trunk_girths.all())
    assert total == pytest.approx(2 * 25**2 / (4 * math.pi))
    assert total == pytest.approx(TrunkGirth(girth_mm=500).section_cm2 / 2)
