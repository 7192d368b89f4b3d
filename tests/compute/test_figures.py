"""The shipped figures: every one has a source or says why it has no value."""

import pytest

from planning.compute.figures import DECLARED, SPECIES, FigureError, check, shipped

ALL = [(species, name) for species in SPECIES for name in DECLARED]


@pytest.mark.parametrize(("species", "name"), ALL)
def test_a_figure_is_sourced_and_in_range_or_says_why_not(species: str, name: str) -> None:
    figure = shipped(species)[name]
    if figure.value is None:
        assert figure.reason
    else:
        assert figure.source
        assert check(name, figure.value).unit == figure.unit


PUBLISHED = [
    # du Preez, ACOTANC 2001.
    ("cherimoya", "base-temperature", 7),
    ("atemoya", "base-temperature", 10),
    # Paull & Duarte 2011, ch. 6: about 150 flowers an hour.
    ("sugar-apple", "flowers-per-hour", 150),
    # Sanewski 1991 in Paull & Duarte: laterals cut to 10-15 cm, 4-6 buds.
    ("atemoya", "lateral-least-cm", 10),
    ("atemoya", "lateral-most-cm", 15),
    ("atemoya", "lateral-least-buds", 4),
    ("atemoya", "lateral-most-buds", 6),
    # Pinto & Ramos 1999: soursop by brush.
    ("soursop", "expected-set", 0.73),
    # UF/IFAS Extension HS38; Morton 1987.
    ("sugar-apple", "fruit-weight-least", 113),
    ("sugar-apple", "fruit-weight-most", 682),
    ("cherimoya", "fruit-weight-least", 150),
    # Common practice, no source: half to two thirds off, ten minutes a visit.
    ("sugar-apple", "cut-back-least", 1 / 2),
    ("sugar-apple", "cut-back-most", 2 / 3),
    ("sugar-apple", "minutes-per-tree-visit", 10),
]


@pytest.mark.parametrize(("species", "name", "value"), PUBLISHED)
def test_a_figure_is_as_its_source_has_it(species: str, name: str, value: float) -> None:
    assert shipped(species)[name].value == value


def test_no_base_temperature_of_sugar_apple_is_made_up() -> None:
    """Mendes et al. 2017 give degree days without a base that could be read."""
    figure = shipped("sugar-apple")["base-temperature"]
    assert figure.value is None
    assert "No published base temperature" in figure.reason


def test_soursop_is_not_cut_back() -> None:
    assert "does not apply" in shipped("soursop")["cut-back-least"].reason


@pytest.mark.parametrize("species", ["atemoya", "custard-apple"])
def test_no_lightest_fruit_is_made_up(species: str) -> None:
    figure = shipped(species)["fruit-weight-least"]
    assert figure.value is None
    assert "was found" in figure.reason


def test_a_species_without_figures_says_so() -> None:
    assert {figure.value for figure in shipped("ylang-ylang").values()} == {None}


WRONG = [
    ("base-temp", 7, "There is no figure base-temp"),
    ("base-temperature", 44.6, "base-temperature is -5 to 25 C, not 44.6."),
    ("expected-set", 90, "expected-set is 0.01 to 1, not 90."),
    ("flowers-per-hour", float("nan"), "not nan"),
]


@pytest.mark.parametrize(("name", "value", "told"), WRONG)
def test_a_value_that_cannot_be_is_refused(name: str, value: float, told: str) -> None:
    with pytest.raises(FigureError, match=told):
        check(name, value)
