"""Rules that find slips: what they raise on honest rows, and what they find of planted slips.

Both are shares over many invented farms, printed with `-s`; the bounds are what a grower would
bear: about one false alarm in forty farms of three seasons, and nine slips of ten found.
"""

import datetime as dt
import math
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest
from scipy.stats import median_abs_deviation

from planning.compute.findings import (
    Finding,
    FindingKind,
    Ground,
    Range,
    Row,
    RowKind,
    Sure,
    Trees,
    findings,
)
from planning.compute.findings.likeness import PER_CONTAINER, PER_FRUIT, compare
from planning.compute.findings.readings import GRAMS, net_g, of_other_place, of_other_unit
from planning.compute.findings.swapped_dates import swapped
from tests.compute.picked_rows import TODAY, Farm, as_pounds, farm, scaled, with_rows

FARMS = 60
tell = sys.stdout.write
MOST_FALSE, LEAST_FOUND = 1 / 40, 0.9


def of_kind(found: Iterable[Finding], kind: FindingKind) -> list[Finding]:
    return [finding for finding in found if finding.kind == kind]


# False alarms ------------------------------------------------------------------------------------


def test_honest_rows_raise_hardly_an_alarm() -> None:
    alarms: Counter[FindingKind] = Counter()
    rows = 0
    for seed in range(FARMS):
        clean = farm(seed)
        rows += len(clean.rows)
        alarms.update({finding.kind for finding in findings(clean.ground)})
    rates = {kind.value: round(alarms[kind] / FARMS, 4) for kind in FindingKind}
    tell(f"\nfalse alarms a farm of three seasons, {FARMS} farms, {rows} rows: {rates}")
    assert rows > FARMS * 600
    assert max(rates.values()) <= MOST_FALSE


def test_a_block_that_yields_twice_as_much_is_nothing_to_look_at() -> None:
    """Nothing but the kilos of a block's weighings doubles: more fruit, more crates."""
    for seed in range(10):
        made = farm(seed)
        block, year = made.rows[0].block, 2026
        doubled = {
            row.id: replace(
                row,
                weight=row.weight and row.weight * 2,
                tare_g=row.tare_g * 2,
                net_g=(row.net_g or 0) * 2,
                containers=row.containers and row.containers * 2,
                fruit_count=row.fruit_count and row.fruit_count * 2,
            )
            for row in made.rows
            if row.block == block and row.season_year == year
        }
        assert findings(with_rows(made, doubled)) == []


# Power -------------------------------------------------------------------------------------------

Plant = Callable[[Farm, Random], tuple[dict[object, Row], FindingKind]]


def some(made: Farm, rng: Random, number: int, **facts: object) -> list[Row]:
    rows = [
        row
        for row in made.rows
        if row.kind is RowKind.WEIGHING
        and all(getattr(row, name) == value for name, value in facts.items())
        and (row.fruit_count or 0) >= 5
        and (row.containers is None or row.containers >= 3)
    ]
    return rng.sample(rows, min(number, len(rows)))


def one_in_pounds(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    return {row.id: as_pounds(row) for row in some(made, rng, 1)}, FindingKind.UNIT_SLIP


def one_converted_twice(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    rows = some(made, rng, 1)
    return {row.id: scaled(row, Decimal("0.45359237")) for row in rows}, FindingKind.UNIT_SLIP


def a_file_in_pounds(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    """The last season's file, whole."""
    source = next(row.source for row in reversed(made.rows) if row.source)
    rows = [row for row in made.rows if row.source == source and row.kind is RowKind.WEIGHING]
    return {row.id: as_pounds(row) for row in rows}, FindingKind.UNIT_SLIP


def one_tenfold(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    return {row.id: scaled(row, Decimal(10)) for row in some(made, rng, 1)}, (
        FindingKind.TENFOLD_SLIP
    )


def one_tenth(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    """Of the gross of crates no fruit would be left: that is refused where it is entered."""
    rows = some(made, rng, 400)
    rows = [row for row in rows if (scaled(row, Decimal("0.1")).net_g or 0) > 0]
    return {row.id: scaled(row, Decimal("0.1")) for row in rows[:1]}, FindingKind.TENFOLD_SLIP


def a_lost_mark(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    return {row.id: scaled(row, Decimal(100)) for row in some(made, rng, 1)}, (
        FindingKind.TENFOLD_SLIP
    )


def an_intake_tenfold(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    intake = rng.choice([row for row in made.rows if row.kind is RowKind.INTAKE])
    return {intake.id: scaled(intake, Decimal(10))}, FindingKind.TENFOLD_SLIP


def a_day_swapped(made: Farm, rng: Random) -> tuple[dict, FindingKind]:
    """All weighings of a day in September, whose month becomes another."""
    days = [
        row.day
        for row in made.rows
        if row.day.month == 9 and (other := swapped(row.day)) and other.month in {1, 2, 3, 4, 5}
    ]
    day = rng.choice(days)
    rows = [row for row in made.rows if row.day == day and row.kind is RowKind.WEIGHING]
    return {row.id: replace(row, day=swapped(day) or day) for row in rows}, (
        FindingKind.SWAPPED_DATE
    )


PLANTS = [
    one_in_pounds,
    one_converted_twice,
    a_file_in_pounds,
    one_tenfold,
    one_tenth,
    a_lost_mark,
    an_intake_tenfold,
    a_day_swapped,
]


@pytest.mark.parametrize("plant", PLANTS)
def test_a_planted_slip_is_found_and_put_right(plant: Plant) -> None:
    """Found: a finding about just these rows, whose fix gives back what they said."""
    hits = 0
    for seed in range(FARMS):
        made, rng = farm(seed), Random(f"plant {seed}")
        planted, kind = plant(made, rng)
        honest = {row.id: row for row in made.rows}
        found = of_kind(findings(with_rows(made, planted)), kind)
        about = {row.id for finding in found for row in finding.about}
        hits += about == set(planted) and all(is_mended(each, honest) for each in found)
    tell(f"\n{plant.__name__}: {hits} of {FARMS} found and put right, and nothing else")
    assert hits >= LEAST_FOUND * FARMS


def is_mended(finding: Finding, honest: dict) -> bool:
    """Whether the fix gives back the honest weight, to a thousandth, and the honest date."""
    if finding.fix is None:
        return False
    rows = {row.id: row for row in finding.about}
    return all(
        is_like(fixed(rows[change.id], change.fields), honest[change.id])
        for change in finding.fix.changes
    )


def fixed(row: Row, fields: dict[str, str]) -> Row:
    weight, unit = Decimal(fields.get("weight", str(row.weight))), fields.get("unit", row.unit)
    day = dt.date.fromisoformat(fields["picked_on"]) if "picked_on" in fields else row.day
    return replace(row, day=day, net_g=round(weight * GRAMS[unit]) - row.tare_g)


def is_like(row: Row, honest: Row) -> bool:
    return row.day == honest.day and math.isclose(row.net_g or 0, honest.net_g or 0, rel_tol=1e-3)


def test_a_long_file_is_put_right_in_parts() -> None:
    made = farm(14, in_crates=True)
    source = next(row.source for row in reversed(made.rows) if row.source)
    wrong = [as_pounds(row) for row in made.rows if row.source == source and row.containers]
    more = [replace(row, id=made.id(), docket=f"{n}") for n in range(3) for row in wrong]
    others = [row for row in made.rows if row.source != source]
    found = of_kind(findings(Ground(rows=[*others, *more], today=TODAY)), FindingKind.UNIT_SLIP)
    sizes = [len(each.about) for each in found]
    assert sizes[0] == 500
    assert sum(sizes) == len(more) > 500
    assert found[0].about[-1].day <= found[1].about[0].day


# Readings ----------------------------------------------------------------------------------------


def test_the_pound_is_exact() -> None:
    """NIST Handbook 44, Appendix C: 100 lb are 45.359237 kg (value from memory)."""
    row = replace(farm(1).rows[0], weight=Decimal(100), unit="kg", tare_g=0)
    [as_lb] = [each for each in of_other_unit(row) if each.name == "pounds"]
    assert net_g(row, as_lb) == 45_359
    assert (as_lb.weight, as_lb.unit) == (Decimal(100), "lb")


def test_tare_is_taken_off_as_before() -> None:
    """25 lb gross in one crate of 1.5 kg, entered as kilos: 9.84 kg of fruit."""
    row = replace(farm(1).rows[0], weight=Decimal(25), unit="kg", tare_g=1_500, net_g=23_500)
    [as_lb] = [each for each in of_other_unit(row) if each.name == "pounds"]
    assert net_g(row, as_lb) == 11_340 - 1_500


def test_places_are_tens_and_hundreds_either_way() -> None:
    row = replace(farm(1).rows[0], weight=Decimal("12.5"))
    weights = sorted(each.weight for each in of_other_place(row))
    assert weights == [Decimal("0.125"), Decimal("1.25"), Decimal(125), Decimal(1250)]


# Comparisons -------------------------------------------------------------------------------------


def test_too_few_like_rows_tell_nothing() -> None:
    made = farm(3, in_crates=True)
    few = [replace(row, source=None) for row in made.rows if row.kind is RowKind.WEIGHING][:8]
    few[0] = as_pounds(few[0])
    assert compare(few, PER_CONTAINER, of_other_unit).suspects == []


def test_spread_is_that_of_scipy() -> None:
    made = farm(4, in_crates=True)
    rows = [row for row in made.rows if row.kind is RowKind.WEIGHING]
    logs = [
        math.log((row.net_g or 0) / (row.containers or 1))
        for row in rows
        if (row.containers or 0) >= 3
    ]
    target = next(row for row in rows if (row.containers or 0) >= 3)
    planted = [as_pounds(row) if row is target else row for row in rows]
    [suspect] = compare(planted, PER_CONTAINER, of_other_unit).suspects
    expected = float(median_abs_deviation(logs, scale="normal"))
    assert suspect.comparison.spread == pytest.approx(expected, rel=0.05)
    assert suspect.comparison.ratio == pytest.approx(2.2, rel=0.35)


def test_of_two_files_that_accuse_each_other_neither_is_put_right() -> None:
    """Nobody says what a crate holds: the later one is shown, without a fix."""
    made = farm(5, seasons=2, in_crates=True)
    rows = [
        replace(row, usual_net_g=None, fruit_count=None)
        for row in made.rows
        if row.kind is RowKind.WEIGHING and row.source
    ]
    late = [as_pounds(row) if row.season_year == 2026 else row for row in rows]
    [found] = findings(Ground(rows=late, today=TODAY))
    assert found.sure is Sure.LOW
    assert found.fix is None


def test_a_container_that_says_what_it_holds_decides_between_two_files() -> None:
    made = farm(5, seasons=2, in_crates=True)
    rows = [
        replace(row, fruit_count=None)
        for row in made.rows
        if row.kind is RowKind.WEIGHING and row.source
    ]
    early = [as_pounds(row) if row.season_year == 2025 else row for row in rows]
    [found] = findings(Ground(rows=early, today=TODAY))
    assert {row.season_year for row in found.about} == {2025}
    assert found.fix is not None


def test_a_comparison_that_disagrees_acquits() -> None:
    """Kilos a fruit are off tenfold, kilos a crate are not: the fruit were miscounted."""
    made = farm(6, in_crates=True)
    target = next(row for row in made.rows if (row.containers or 0) >= 3)
    rows = [
        replace(row, fruit_count=(row.fruit_count or 1) * 11) if row is target else row
        for row in made.rows
    ]
    assert compare(rows, PER_FRUIT, of_other_place).suspects
    assert of_kind(findings(Ground(rows=rows, today=TODAY)), FindingKind.TENFOLD_SLIP) == []


# The same twice ----------------------------------------------------------------------------------


def copies(made: Farm, rows: Iterable[Row], **facts: object) -> list[Row]:
    return [
        replace(row, id=made.id(), number=10_000 + n, **facts)  # type: ignore[arg-type]
        for n, row in enumerate(rows)
    ]


def test_a_delivery_under_two_dockets_is_found_once() -> None:
    hits = 0
    for seed in range(FARMS):
        made = farm(seed)
        day = Random(seed).choice(made.rows).day
        rows = [row for row in made.rows if row.day == day and row.kind is RowKind.WEIGHING]
        again = copies(made, rows, docket="D2", source=made.id())
        made.rows += again
        found = of_kind(findings(made.ground), FindingKind.RECORDED_TWICE)
        about = {row.id for finding in found for row in finding.about}
        hits += about == {row.id for row in again}
        assert all(change.retires for each in found for change in each.fix.changes)  # type: ignore[union-attr]
    tell(f"\ndelivery twice: {hits} of {FARMS} found, and nothing else")
    assert hits >= LEAST_FOUND * FARMS


def test_one_weighing_entered_by_hand_and_in_a_file_is_found() -> None:
    made = farm(8)
    row = next(row for row in made.rows if row.kind is RowKind.WEIGHING and row.source)
    others = [each for each in made.rows if each.day != row.day or each.source == row.source]
    [again] = copies(made, [row], source=None)
    ground = replace(made.ground, rows=[*others, again])
    [found] = findings(ground)
    assert list(found.about) == [again]
    assert found.evidence["expected_by_chance"] < 0.02


def test_lines_of_one_docket_that_agree_are_two_weighings() -> None:
    made = farm(9)
    row = next(row for row in made.rows if row.kind is RowKind.WEIGHING)
    made.rows += copies(made, [row])
    assert findings(made.ground) == []


# Trees -------------------------------------------------------------------------------------------

STANDS = [
    (Trees(standing=0, bearing=0), True),  # none stands
    (Trees(standing=40, bearing=0), True),  # all too young, or marked non-bearing
    (Trees(standing=40, bearing=1), False),
    (None, False),  # nothing recorded: unknown is not none
]


@pytest.mark.parametrize(("trees", "is_found"), STANDS)
def test_fruit_needs_a_tree_that_bears(trees: Trees | None, is_found: bool) -> None:
    made = farm(10)
    row = next(row for row in made.rows if row.kind is RowKind.WEIGHING)
    known = {place: there for place, there in made.ground.trees.items() if place[0] != row.block}
    if trees is not None and row.block:
        known |= {place: trees for place in made.ground.trees if place[0] == row.block}
    found = findings(replace(made.ground, trees=known))
    assert ({each.kind for each in found} == {FindingKind.NO_BEARING_TREES}) is is_found
    assert all(each.fix is None for each in found)
    assert len(found) == (3 if is_found else 0)  # a season each


# Fruit weight ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mean_g", "is_found"),
    [
        (85, True),  # below four fifths of 113 g
        (95, False),
        (800, False),  # within a quarter above 682 g
        (900, True),
    ],
)
def test_fruit_far_outside_the_cited_range_is_found(mean_g: int, is_found: bool) -> None:
    [found] = [fruit_of(mean_g)]
    assert bool(findings(found)) is is_found


def fruit_of(mean_g: int, **facts: object) -> Ground:
    made = farm(11, in_crates=False)
    row = replace(made.rows[0], fruit_count=10, net_g=mean_g * 10, **facts)  # type: ignore[arg-type]
    ranges = {row.cultivar: Range(least_g=113, most_g=682, source="for this test")}
    return Ground(rows=[row], today=TODAY, ranges=ranges)  # type: ignore[arg-type]


def test_culls_and_species_without_a_range_are_not_checked() -> None:
    assert findings(fruit_of(60, is_cull=True)) == []
    assert findings(replace(fruit_of(60), ranges={})) == []
    assert findings(fruit_of(60))[0].evidence["source"] == "for this test"


# Findings as values ------------------------------------------------------------------------------


def test_a_finding_keeps_its_key_while_its_rows_say_the_same() -> None:
    first, again = fruit_of(60), fruit_of(60)
    later = replace(again, rows=[replace(row, version=7) for row in again.rows])
    other = replace(again, rows=[replace(row, fruit_count=11) for row in again.rows])
    [one], [two], [three] = findings(first), findings(later), findings(other)
    assert one.key == two.key != three.key


def test_every_finding_says_its_threshold_and_its_comparison() -> None:
    made = farm(12, in_crates=True)
    planted = {row.id: as_pounds(row) for row in some(made, Random(1), 1)}
    [found] = findings(with_rows(made, planted))
    assert found.evidence["threshold"]
    first = found.evidence["comparisons"][0]
    assert first["ratio"] > 1.7  # the tare is not scaled with the rest
    assert first["as_fixed_ratio"] == pytest.approx(1, abs=0.25)
    assert first["n"] >= 9
    assert "pounds entered as kilos" in found.sentence
