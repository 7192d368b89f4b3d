"""What is known of a species for its stage forecasts, from the figures in force on a farm."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from planning.choices import Climate
from planning.compute.figures.stages import SPANS
from planning.compute.stage_forecasts import DayRange, SpeciesFacts, Stage
from planning.queries.figures import FarmFigures
from records.models import Species

MAIN = "main"
SOURSOP = "soursop"
Pair = tuple[Stage, Stage]

SPAN_OF: Mapping[Pair, str] = {
    (Stage.OPENING, Stage.LEAF_OUT): "opening-to-leaf-out",
    (Stage.OPENING, Stage.FIRST_BLOOM): "opening-to-first-bloom",
    (Stage.OPENING, Stage.FIRST_PICKING): "opening-to-first-picking",
    (Stage.FIRST_BLOOM, Stage.HALF_BLOOM): "first-bloom-to-half-bloom",
    (Stage.FIRST_BLOOM, Stage.END_OF_BLOOM): "first-bloom-to-end-of-bloom",
    (Stage.FIRST_BLOOM, Stage.FIRST_PICKING): "first-bloom-to-first-picking",
    (Stage.SKIN_CHANGE, Stage.FIRST_PICKING): "skin-change-to-first-picking",
    (Stage.FIRST_PICKING, Stage.LAST_PICKING): "first-picking-to-last-picking",
}
# Days to a stage less those to another that comes between: what is left from that one on.
LESS_THE_START: tuple[tuple[Pair, Pair, Pair], ...] = (
    (
        (Stage.LEAF_OUT, Stage.FIRST_BLOOM),
        (Stage.OPENING, Stage.FIRST_BLOOM),
        (Stage.OPENING, Stage.LEAF_OUT),
    ),
    (
        (Stage.HALF_BLOOM, Stage.END_OF_BLOOM),
        (Stage.FIRST_BLOOM, Stage.END_OF_BLOOM),
        (Stage.FIRST_BLOOM, Stage.HALF_BLOOM),
    ),
    (
        (Stage.HALF_BLOOM, Stage.FIRST_PICKING),
        (Stage.FIRST_BLOOM, Stage.FIRST_PICKING),
        (Stage.FIRST_BLOOM, Stage.HALF_BLOOM),
    ),
    (
        (Stage.FIRST_BLOOM, Stage.SKIN_CHANGE),
        (Stage.FIRST_BLOOM, Stage.FIRST_PICKING),
        (Stage.SKIN_CHANGE, Stage.FIRST_PICKING),
    ),
    (
        (Stage.HALF_BLOOM, Stage.SKIN_CHANGE),
        (Stage.FIRST_BLOOM, Stage.SKIN_CHANGE),
        (Stage.FIRST_BLOOM, Stage.HALF_BLOOM),
    ),
)
TO_HALF_BLOOM = (Stage.FIRST_BLOOM, Stage.HALF_BLOOM)
TO_END_OF_BLOOM = (Stage.FIRST_BLOOM, Stage.END_OF_BLOOM)
EVERGREEN = "It does not apply: soursop is evergreen and has no leaf-out."


@dataclass(slots=True, kw_only=True)
class StageFigures:
    """The facts of each species and cultivar on a farm, each put together once."""

    figures: FarmFigures
    climate: str | None
    _known: dict[tuple[str, UUID | None, bool], SpeciesFacts] = field(default_factory=dict)

    def facts(
        self, species: Species, crop_name: str = MAIN, cultivar_id: UUID | None = None
    ) -> SpeciesFacts:
        key = species.code, cultivar_id, crop_name == MAIN
        if key not in self._known:
            self._known[key] = self._facts(species, cultivar_id, is_main=crop_name == MAIN)
        return self._known[key]

    def upper_c(self, species: Species, cultivar_id: UUID | None = None) -> float | None:
        return self.figures.value(species.code, "upper-temperature", cultivar_id)

    def _facts(self, species: Species, cultivar_id: UUID | None, *, is_main: bool) -> SpeciesFacts:
        of = self.figures
        base = of.figure(species.code, "base-temperature", cultivar_id)
        least = of.value(species.code, "base-temperature-least", cultivar_id)
        most = of.value(species.code, "base-temperature-most", cultivar_id)
        bounds = {"fit_from_c": least, "fit_to_c": most}
        return SpeciesFacts(
            name=species.common_name,
            days=dict(self._days(species.code, cultivar_id, is_main=is_main)),
            base_c=base.value,
            base_source=base.source,
            does_not_apply={Stage.LEAF_OUT: EVERGREEN} if species.code == SOURSOP else {},
            **{name: value for name, value in bounds.items() if value is not None},
        )

    def _days(
        self, species: str, cultivar_id: UUID | None, *, is_main: bool
    ) -> Iterator[tuple[Pair, DayRange]]:
        known: dict[Pair, DayRange] = {}
        for pair, span in SPAN_OF.items():
            found = self._in_force(species, cultivar_id, span, is_main=is_main)
            if found is not None:
                known[pair] = found
        _shorten_half_bloom(known)
        for rest, whole, start in LESS_THE_START:
            if whole in known and start in known:
                known[rest] = _less(known[whole], known[start], SPAN_OF.get(start, ""))
        yield from known.items()

    def _in_force(
        self, species: str, cultivar_id: UUID | None, span: str, *, is_main: bool
    ) -> DayRange | None:
        """Of a second crop its own days, where any are known; in tropical lowland only its own."""
        if not is_main and f"second-{span}" in SPANS:
            second = self._range(species, cultivar_id, f"second-{span}")
            if second is not None:
                return second
        lowland = f"lowland-{span}"
        is_lowland = self.climate == Climate.TROPICAL_LOWLAND and lowland in SPANS
        return self._range(species, cultivar_id, lowland if is_lowland else span)

    def _range(self, species: str, cultivar_id: UUID | None, span: str) -> DayRange | None:
        least = self.figures.figure(species, f"{span}-least", cultivar_id)
        most = self.figures.figure(species, f"{span}-most", cultivar_id)
        if least.value is None or most.value is None or least.value >= most.value:
            return None
        return DayRange(
            low=least.value, high=most.value, source=_sources(least.source, most.source)
        )


def _sources(least: str, most: str) -> str:
    return least if least == most else f"{least}; {most}"


def _shorten_half_bloom(known: dict[Pair, DayRange]) -> None:
    """Half of the flowers of a bloom that is known to be short open in half of its days."""
    half, end = known.get(TO_HALF_BLOOM), known.get(TO_END_OF_BLOOM)
    if half is not None and end is not None and half.high >= end.high:
        known[TO_HALF_BLOOM] = DayRange(
            low=end.low / 2, high=end.high / 2, source=f"half of the bloom; {end.source}"
        )


def _less(whole: DayRange, start: DayRange, span: str) -> DayRange:
    middle = (start.low + start.high) / 2
    low, high = max(whole.low - middle, 0), max(whole.high - middle, 1)
    words = SPANS.get(span, "")
    return DayRange(
        low=low, high=high, source=f"{whole.source}; less {middle:g} days {words}".rstrip()
    )
