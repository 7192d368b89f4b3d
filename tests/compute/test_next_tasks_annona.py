"""The rules that annonas start with: complete, sourced, and right where a source can tell."""

from datetime import date

import pytest

from planning.compute.next_tasks import (
    AfterEvent,
    AfterStage,
    BeforeStage,
    DateWindow,
    Days,
    Repeat,
    SeasonEvent,
    TaskError,
    TaskRule,
    WorkKind,
)
from planning.compute.next_tasks.annona import Climate, RuleSet, annona_rules, climate_at
from records.choices import TaskKind

SPECIES = ["sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple"]
NORTH, SOUTH, LOWLAND = Climate
EVERY_SET = [(species, climate) for species in SPECIES for climate in Climate]


def by_kind(rules: RuleSet, kind: WorkKind) -> list[TaskRule]:
    return [rule for rule in rules.rules if rule.kind is kind]


def pruning_window(species: str, climate: Climate) -> DateWindow:
    (rule,) = by_kind(annona_rules(species, climate), WorkKind.PRUNING)
    trigger = rule.trigger.otherwise if isinstance(rule.trigger, BeforeStage) else rule.trigger
    assert isinstance(trigger, DateWindow)
    return trigger


def visit_repeat(species: str) -> Repeat:
    (rule,) = by_kind(annona_rules(species, NORTH), WorkKind.POLLINATION)
    assert rule.repeat is not None
    return rule.repeat


def first_pick(species: str) -> Days:
    (rule,) = by_kind(annona_rules(species, NORTH), WorkKind.PICKING)
    assert isinstance(rule.trigger, AfterStage)
    return rule.trigger.days


def figures(rule: TaskRule) -> set[str]:
    """The figures that a rule states, by the names its sources go by."""
    stated = {
        "early_days": rule.early_days,
        "until": rule.until,
        "only_while": rule.only_while,
        "repeat": rule.repeat,
        "end": rule.repeat,
    }
    return {"trigger", *(name for name, value in stated.items() if value)}


@pytest.mark.parametrize(("species", "climate"), EVERY_SET)
def test_every_figure_has_its_source(species: str, climate: Climate) -> None:
    found = annona_rules(species, climate)
    for rule in (*found.rules, *found.options):
        assert set(rule.sources) == figures(rule)
        assert all(rule.sources.values())


@pytest.mark.parametrize(("species", "climate"), EVERY_SET)
def test_every_kind_of_work_has_a_rule_or_a_reason_why_not(species: str, climate: Climate) -> None:
    rules = annona_rules(species, climate)
    kinds = {rule.kind for rule in rules.rules}
    assert kinds.isdisjoint(rules.does_not_apply)
    assert {
        WorkKind.PRUNING,
        WorkKind.POLLINATION,
        WorkKind.COUNTING,
        WorkKind.PICKING,
    } <= kinds | set(rules.does_not_apply)
    assert all(reason.endswith(".") for reason in rules.does_not_apply.values())


@pytest.mark.parametrize(
    ("species", "climate", "kind", "words"),
    [
        # evergreen, flowering on old wood, in any climate
        ("soursop", NORTH, WorkKind.PRUNING, "evergreen"),
        ("soursop", LOWLAND, WorkKind.PRUNING, "evergreen"),
        # the grower's day starts the cycle
        ("atemoya", LOWLAND, WorkKind.PRUNING, "grower's choice"),
        # its leaves are not stripped either
        ("soursop", SOUTH, WorkKind.LEAF_STRIPPING, "not for soursop"),
        # seldom done (common practice)
        ("custard-apple", SOUTH, WorkKind.POLLINATION, "seldom pollinated by hand"),
    ],
)
def test_does_not_apply_is_an_answer(
    species: str, climate: Climate, kind: WorkKind, words: str
) -> None:
    assert words in annona_rules(species, climate).does_not_apply[kind]


def test_the_first_week_of_march_is_in_the_northern_window() -> None:
    # Common practice, no source: prune about the first week of March in the northern subtropics.
    window = pruning_window("sugar-apple", NORTH).around(2026)
    assert window.opens <= date(2026, 3, 1)
    assert window.best == date(2026, 3, 7)


def test_australian_dormant_pruning_is_in_september() -> None:
    # Sanewski 1991, in Paull & Duarte 2011, ch. 6: atemoya, SE Queensland.
    window = pruning_window("atemoya", SOUTH).around(2026)
    assert (window.opens, window.closes) == (date(2026, 9, 1), date(2026, 9, 30))


def test_taiwanese_winter_pruning_is_in_january_and_february() -> None:
    # Taiwan sugar apple: winter pruning January-February, to the leap day where there is one.
    window = pruning_window("sugar-apple", LOWLAND)
    assert window.around(2026).opens == date(2026, 1, 1)
    assert window.around(2026).closes == date(2026, 2, 28)
    assert window.around(2028).closes == date(2028, 2, 29)


def test_six_months_on_the_northern_best_day_is_in_the_southern_window() -> None:
    # A check and no derivation: SE Queensland's September is March in the northern hemisphere.
    north, south = pruning_window("atemoya", NORTH), pruning_window("atemoya", SOUTH)
    best = north.around(2026).best
    shifted = best.replace(month=best.month + 6)
    assert south.around(2026).opens <= shifted <= south.around(2026).closes


def test_taiwan_is_not_the_northern_window() -> None:
    # Tropical lowland has its own months; neither is derived from the other.
    north, lowland = pruning_window("sugar-apple", NORTH), pruning_window("sugar-apple", LOWLAND)
    assert not lowland.around(2026).opens <= north.around(2026).best <= lowland.around(2026).closes


@pytest.mark.parametrize("species", ["sugar-apple", "atemoya", "cherimoya", "soursop"])
def test_visits_are_five_every_two_to_three_days(species: str) -> None:
    # Common practice: 4-5 visits. New Zealand cherimoya notes: pollinate every 2-3 days.
    repeat = visit_repeat(species)
    assert repeat.times == 5
    assert (repeat.days.opens, repeat.days.best) == (2, 3)


@pytest.mark.parametrize(
    ("species", "opens", "at_most"),
    [
        # value from memory: 110-120 days
        ("sugar-apple", 110, 120),
        # FAO Ecocrop 3236: 100-120 days
        ("atemoya", 100, 120),
        # practical manual, Peru: 4-7 months
        ("cherimoya", 120, 210),
        # value from memory: 5-6 months
        ("soursop", 150, 180),
        # annonas in general, Pinto et al. 2005: 5-6 months
        ("custard-apple", 150, 180),
    ],
)
def test_first_fruit_is_looked_for_within_the_published_days(
    species: str, opens: int, at_most: int
) -> None:
    days = first_pick(species)
    assert days.opens == opens
    assert opens <= days.best <= at_most


def test_codes_are_the_same_in_every_set() -> None:
    codes = {rule.code for each in EVERY_SET for rule in annona_rules(*each).rules}
    assert codes == {"pruning", "pollination", "initial-count", "retained-count", "picking"}


def options(species: str, climate: Climate) -> dict[str, TaskRule]:
    return {rule.code: rule for rule in annona_rules(species, climate).options}


@pytest.mark.parametrize(
    ("species", "climate", "codes"),
    [
        # a second crop by stripping a month or more after the pruning (common practice)
        ("sugar-apple", NORTH, {"leaf-stripping", "seed-bags", "thinning"}),
        # no source gives the days of summer pruning in Taiwan
        ("sugar-apple", LOWLAND, {"seed-bags", "thinning"}),
        # evergreen
        ("soursop", NORTH, {"seed-bags", "thinning"}),
        # pollinated by hand on some farms
        ("custard-apple", SOUTH, {"pollination", "seed-bags", "thinning"}),
        # Bengaluru: pruned so long after the last picking
        ("atemoya", LOWLAND, {"pruning", "seed-bags", "thinning"}),
    ],
)
def test_what_only_some_growers_do_is_there_switched_off(
    species: str, climate: Climate, codes: set[str]
) -> None:
    assert set(options(species, climate)) == codes


def test_no_rule_and_option_of_a_set_have_one_code() -> None:
    for each in EVERY_SET:
        found = annona_rules(*each)
        codes = [rule.code for rule in (*found.rules, *found.options)]
        assert len(set(codes)) == len(codes)


def test_almerian_stripping_is_in_the_first_half_of_june() -> None:
    # Soler & Cuevas 2008, HortTechnology 18(1):24: tipped and stripped on 1 or 15 June.
    trigger = options("cherimoya", NORTH)["leaf-stripping"].trigger
    assert isinstance(trigger, DateWindow)
    window = trigger.around(2026)
    assert (window.opens, window.closes) == (date(2026, 6, 1), date(2026, 6, 15))


def test_pruning_at_bengaluru_is_60_to_120_days_after_the_last_picking() -> None:
    # J. Hortic. Sci. 17(2), 2022: pruned at 60, 75, 90, 105 and 120 days after final harvest.
    trigger = options("atemoya", LOWLAND)["pruning"].trigger
    assert isinstance(trigger, AfterEvent)
    assert trigger.event is SeasonEvent.LAST_PICKING
    assert trigger.days == Days(opens=60, best=90, closes=120)


def test_an_unknown_species_is_refused() -> None:
    with pytest.raises(TaskError, match="no rules for the species papaya"):
        annona_rules("papaya", NORTH)


@pytest.mark.parametrize(
    ("latitude_deg", "climate"),
    [
        (32.7, NORTH),
        (-26.5, SOUTH),
        # Taitung, Taiwan, just within the tropics
        (22.75, LOWLAND),
        # Janauba, Brazil
        (-15.8, LOWLAND),
        (23.44, NORTH),
        (-23.44, SOUTH),
    ],
)
def test_latitude_proposes_a_climate(latitude_deg: float, climate: Climate) -> None:
    assert climate_at(latitude_deg) is climate


def test_every_kind_of_task_log_is_a_kind_of_work() -> None:
    # A round and a weighing are records of work themselves, and no kind of task log.
    itself = {WorkKind.POLLINATION, WorkKind.PICKING}
    assert set(TaskKind.values) | itself == set(WorkKind)
