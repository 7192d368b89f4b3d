"""Findings of a farm: found on its rows, kept while these say the same, decided by people."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.access import Caller
from planning.models import Finding, FindingRun, SpeciesFigure
from planning.queries.findings import look
from planning.services.finding_decisions import (
    FindingConflictError,
    apply,
    dismiss,
    reverse,
)
from planning.services.findings import rebuild_findings
from records.models import Container, Delivery, HarvestWeight, Intake
from records.services import saving
from records.services.history import changes
from tests.cast import Cast, Place, make_cast
from tests.planning.ground import TODAY, make_farm, make_tree

ADMIN = Caller(name="admin@platform.example", is_platform_admin=True)
FIRST = dt.date(2026, 8, 13)


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def crates(place: Place, number: int, kg: str, **facts: Any) -> HarvestWeight:
    """Four crates of a day, gross."""
    values = {
        "picked_on": FIRST + dt.timedelta(days=3 * number),
        "weight": Decimal(kg),
        "unit": "kg",
        "containers": 4,
        "container": place.container,
        **facts,
    }
    return saving.save(HarvestWeight(farm=place.farm, block=place.block, **values))


def season(place: Place, number: int = 20) -> list[HarvestWeight]:
    """Crates that hold 11 to 13 kg each, day by day."""
    return [crates(place, n, f"{50 + n % 5}.{n % 10}") for n in range(number)]


@pytest.fixture
def slip(cast: Cast) -> HarvestWeight:
    """Four crates of 12 kg on a scale that showed pounds: 119 lb entered as kilos."""
    season(cast.ours)
    return crates(cast.ours, 21, "119")


def found(place: Place) -> Finding:
    rebuild_findings(place.farm.pk, TODAY)
    return Finding.objects.get(farm=place.farm)


def said(weight: HarvestWeight) -> dict[str, Any]:
    """All that a weighing says, but for its version and times."""
    row = HarvestWeight.objects.filter(pk=weight.pk).values().get()
    return {k: v for k, v in row.items() if k not in {"version", "updated_at", "tick"}}


# Finding -----------------------------------------------------------------------------------------


def test_a_slip_is_found_with_its_evidence_and_fix(cast: Cast, slip: HarvestWeight) -> None:
    finding = found(cast.ours)
    assert (finding.kind, finding.state, finding.sure) == ("unit-slip", "open", "medium")
    assert finding.rows == [{"kind": "harvest-weights", "id": str(slip.pk)}]
    assert finding.block == cast.ours.block
    assert (finding.season_year, finding.about_on) == (2026, slip.picked_on)
    [comparison] = finding.evidence["comparisons"]
    assert comparison["n"] == 20
    assert comparison["expected_kg"] == pytest.approx(11.5, abs=1)
    [change] = finding.fix["changes"]
    assert (change["set"], change["from"]) == ({"unit": "lb"}, {"unit": "kg"})
    assert change["version"] == slip.version
    assert finding.effect_g == round(119 * 453.59237) - 119_000


def test_a_rebuild_writes_nothing_where_nothing_changed(cast: Cast, slip: HarvestWeight) -> None:
    before = Finding.objects.filter(pk=found(cast.ours).pk).values().get()
    written = rebuild_findings(cast.ours.farm.pk, TODAY)
    assert (written.added, written.changed, written.deleted) == (0, 0, 0)
    assert Finding.objects.filter(farm=cast.ours.farm).values().get() == before


def test_evidence_stays_as_it_was_found(cast: Cast, slip: HarvestWeight) -> None:
    """Every further weighing is one more to compare with: no reason to rewrite all findings."""
    before = found(cast.ours).evidence
    crates(cast.ours, 22, "51.5")
    assert found(cast.ours).evidence == before


def test_a_row_that_is_corrected_by_hand_makes_its_finding_outdated(
    cast: Cast, slip: HarvestWeight
) -> None:
    first = found(cast.ours)
    slip.unit = "lb"
    saving.save(slip)
    assert found(cast.ours).pk == first.pk
    assert found(cast.ours).state == "outdated"
    slip.unit = "kg"
    saving.save(slip)
    again = found(cast.ours)
    assert (again.pk, again.state) == (first.pk, "open")


def test_a_fix_follows_the_versions_of_its_rows(cast: Cast, slip: HarvestWeight) -> None:
    found(cast.ours)
    slip.note = "windy"
    saving.save(slip)
    slip.refresh_from_db()
    assert found(cast.ours).fix["changes"][0]["version"] == slip.version == 2


def test_a_farm_is_looked_at_in_few_queries(cast: Cast, slip: HarvestWeight) -> None:
    with CaptureQueriesContext(connection) as few:
        look(cast.ours.farm, TODAY)
    for number in range(25, 35):
        crates(cast.ours, number % 20, "50")
    with CaptureQueriesContext(connection) as many:
        look(cast.ours.farm, TODAY)
    assert len(few) == len(many) <= 11


def test_older_seasons_are_looked_at_when_something_in_them_changed(cast: Cast) -> None:
    season(cast.ours)
    rebuild_findings(cast.ours.farm.pk, TODAY)
    HarvestWeight.objects.update(tick=5)
    FindingRun.objects.update(tick=5)
    assert look(cast.ours.farm, TODAY).since == dt.date(2024, 1, 1)
    crates(cast.ours, 0, "50", picked_on=dt.date(2019, 9, 1))
    assert look(cast.ours.farm, TODAY).since == dt.date(2019, 1, 1)


def test_no_other_farms_rows_are_compared(cast: Cast) -> None:
    season(cast.neighbour)
    crates(cast.ours, 1, "119")
    rebuild_findings(cast.ours.farm.pk, TODAY)
    assert not Finding.objects.exists()


def test_deliveries_are_held_against_their_intakes(cast: Cast) -> None:
    """Linked, or by docket; one load was weighed in pounds by the shed and entered as kilos."""
    for number in range(7):
        weight = crates(cast.ours, number, "52", docket=f"D{number}", containers=None)
        delivery = None
        if number % 2:
            delivery = saving.save(
                Delivery(farm=cast.ours.farm, delivered_on=weight.picked_on), weights=[weight]
            )
        saving.save(
            Intake(
                farm=cast.ours.farm,
                co_op=cast.co_op,
                delivery=delivery,
                docket="" if delivery else f"D{number}",
                received_on=weight.picked_on + dt.timedelta(days=1),
                weight=Decimal("51.4") if number else Decimal("113.3"),
                unit="kg",
                weight_kind="net",
            )
        )
    finding = found(cast.ours)
    assert finding.rows[0]["kind"] == "intakes"
    assert finding.co_op == cast.co_op
    assert finding.fix["changes"][0]["set"] == {"unit": "lb"}


def test_blocks_without_bearing_trees_are_found_and_unknown_ones_are_not(cast: Cast) -> None:
    place = cast.ours
    place.tree.removed_on, place.tree.removal_reason = dt.date(2026, 8, 20), "storm"
    place.tree.save()
    season(place, 10)  # from 13 August on, every third day
    bare = type(place.block).objects.create(farm=place.farm, code="N2")
    saving.save(HarvestWeight(farm=place.farm, block=bare, picked_on=FIRST, fruit_count=9))
    finding = found(place)
    assert finding.kind == "no-bearing-trees"
    assert finding.about_on == dt.date(2026, 8, 22)
    assert len(finding.rows) == 7
    assert finding.fix is None
    make_tree(place.block, 2, planted_on=dt.date(2025, 1, 1), cultivar=place.tree.cultivar)
    assert found(place).evidence["standing_trees"] == 0  # as it was found


def test_fruit_weights_go_by_the_farms_own_figures(cast: Cast) -> None:
    """80 g a fruit is too light by what is published, and not by what the farm says."""
    place = cast.ours
    row = HarvestWeight(
        farm=place.farm,
        block=place.block,
        picked_on=FIRST,
        weight=Decimal(4),
        unit="kg",
        weight_kind="net",
        fruit_count=50,
    )
    saving.save(row)
    finding = found(place)
    assert (finding.kind, finding.fix) == ("fruit-weight", None)
    assert "HS38" in finding.sentence
    SpeciesFigure.objects.create(
        farm=place.farm,
        species=place.tree.cultivar.species,
        name="fruit-weight-least",
        value=60,
        source="Own samples",
    )
    assert found(place).state == "outdated"


# Deciding ----------------------------------------------------------------------------------------


def test_a_fix_is_applied_and_reversed_exactly(cast: Cast, slip: HarvestWeight) -> None:
    finding, before = found(cast.ours), said(slip)
    apply(finding, caller=ADMIN, today=TODAY, note="asked the picker")
    slip.refresh_from_db()
    assert (slip.unit, slip.net_g) == ("lb", round(119 * 453.59237) - 6_000)
    finding.refresh_from_db()
    assert (finding.state, finding.decided_by) == ("applied", ADMIN.name)
    assert found(cast.ours).state == "applied"
    reverse(finding, caller=ADMIN)
    assert said(slip) == before
    assert found(cast.ours).state == "reversed"
    again = Finding.objects.get()
    apply(again, caller=ADMIN, today=TODAY)
    slip.refresh_from_db()
    assert slip.unit == "lb"


def test_a_row_changed_meanwhile_is_not_overwritten(cast: Cast, slip: HarvestWeight) -> None:
    finding = found(cast.ours)
    slip.note = "windy"
    saving.save(slip)
    with pytest.raises(FindingConflictError, match="version 2"):
        apply(finding, caller=ADMIN, today=TODAY)
    finding.refresh_from_db()
    assert (finding.state, said(slip)["unit"]) == ("open", "kg")


def test_a_row_changed_since_its_fix_is_not_taken_back(cast: Cast, slip: HarvestWeight) -> None:
    finding = apply(found(cast.ours), caller=ADMIN, today=TODAY)
    slip.refresh_from_db()
    slip.note = "weighed again"
    saving.save(slip)
    with pytest.raises(FindingConflictError, match="changed since"):
        reverse(finding, caller=ADMIN)
    assert said(slip)["unit"] == "lb"


def test_a_row_that_is_gone_is_a_conflict(cast: Cast, slip: HarvestWeight) -> None:
    finding = found(cast.ours)
    saving.delete(slip)
    with pytest.raises(FindingConflictError, match="gone"):
        apply(finding, caller=ADMIN, today=TODAY)


def test_a_fix_that_breaks_a_rule_changes_nothing(cast: Cast, slip: HarvestWeight) -> None:
    """The date that the fix would set lies in the future by then."""
    finding = found(cast.ours)
    finding.fix["changes"][0]["set"] = {"picked_on": "2999-01-01"}
    finding.save()
    with pytest.raises(ValidationError, match="future"):
        apply(finding, caller=ADMIN, today=TODAY)
    assert Finding.objects.get().state == "open"


def test_a_dismissal_needs_a_note_and_is_kept(cast: Cast, slip: HarvestWeight) -> None:
    with pytest.raises(ValidationError, match="Say why"):
        dismiss(found(cast.ours), caller=ADMIN, note=" ")
    dismiss(found(cast.ours), caller=ADMIN, note="these were lug boxes")
    crates(cast.ours, 22, "51.5")
    kept = found(cast.ours)
    assert (kept.state, kept.note) == ("dismissed", "these were lug boxes")
    with pytest.raises(FindingConflictError, match="dismissed"):
        apply(kept, caller=ADMIN, today=TODAY)
    assert reverse(kept, caller=ADMIN).state == "reversed"


def test_a_slip_put_back_by_hand_is_open_again(cast: Cast, slip: HarvestWeight) -> None:
    apply(found(cast.ours), caller=ADMIN, today=TODAY)
    slip.refresh_from_db()
    slip.unit = "kg"
    saving.save(slip)
    again = found(cast.ours)
    assert (again.state, again.decision, again.applied) == ("open", "", None)


def test_what_is_recorded_twice_is_retired_and_counts_again(cast: Cast) -> None:
    place = cast.ours
    for number in range(3):
        crates(place, 0, f"{50 + number}.3", docket="D1")
    twice = [crates(place, 0, f"{50 + number}.3", docket="D2") for number in range(3)]
    finding = found(place)
    assert {row["id"] for row in finding.rows} == {str(row.pk) for row in twice}
    apply(finding, caller=ADMIN, today=TODAY)
    assert HarvestWeight.objects.kept().filter(docket="D2").count() == 0
    reverse(Finding.objects.get(), caller=ADMIN)
    assert HarvestWeight.objects.kept().filter(docket="D2").count() == 3


def test_decisions_are_in_the_history_with_the_rows_they_changed(
    cast: Cast, slip: HarvestWeight
) -> None:
    finding = apply(found(cast.ours), caller=ADMIN, today=TODAY)
    [decided, made] = changes(cast.ours.farm.pk, kinds=["findings"], limit=5)
    assert (made.values["state"], decided.values["state"]) == ("open", "applied")
    [edit] = changes(cast.ours.farm.pk, kinds=["harvest-weights"], record_id=slip.pk, limit=1)
    assert edit.made_by["finding"] == str(finding.pk)


def test_containers_of_another_farm_do_not_matter(cast: Cast) -> None:
    other = make_farm("THIRD")
    Container.objects.create(farm=other, code="crate", tare_g=100)
    rebuild_findings(other.pk, TODAY)
    assert FindingRun.objects.get(farm=other).tick == 0
