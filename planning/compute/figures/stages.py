"""Days from one stage of a crop to another, as ranges that hold four seasons of five.

A crop's opening is its pruning or leaf stripping. What is published for whole cycles: sugar apple
149 and 164 days from closed leaf bud to ripe fruit (Janauba, Brazil: Mendes et al. 2017), atemoya
206 and 217 (Rev. Ceres 66(3), 2019). Figures whose name begins with `lowland` hold in tropical
lowland, those with `second` for a crop opened by a late strip and prune.
"""

from collections.abc import Iterator

from planning.compute.figures.values import Declared, Shipped

COMMON = "common practice, no source"
_ASSUMED = "assumed, no source"
_MENDES = "Mendes et al. 2017, An. Acad. Bras. Cienc. 89(3)"
_CERES = "Rev. Ceres 66(3), 2019: 206 and 217 days from bud to ripe fruit"
_SOLER = "Soler & Cuevas 2008, HortTechnology 18(1)"
_NEW_ZEALAND = "cherimoya hand-pollination notes, New Zealand"
_ALL = ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple")
_PRUNED = ("sugar-apple", "atemoya", "cherimoya", "custard-apple")
_NOT_FOUND = "No published figure was found: the block's own seasons will tell, or enter your own."
_SOURSOP = "It does not apply: soursop is evergreen, and pruning does not start its bloom."

# What each span means; `-least` and `-most` are its figures.
SPANS = {
    "opening-to-leaf-out": "from pruning or leaf stripping to leaf-out",
    "opening-to-first-bloom": "from pruning or leaf stripping to first bloom",
    "opening-to-first-picking": "from pruning or leaf stripping to the first picking",
    "first-bloom-to-half-bloom": "from first bloom to half bloom (half of the flowers)",
    "first-bloom-to-end-of-bloom": "from first bloom to the end of bloom",
    "first-bloom-to-first-picking": "from first bloom to the first picking",
    "skin-change-to-first-picking": "from skin change to the first picking",
    "first-picking-to-last-picking": "from the first picking to the last",
    "lowland-opening-to-first-bloom": "from pruning to first bloom in tropical lowland",
    "lowland-opening-to-first-picking": "from pruning to the first picking in tropical lowland",
    "second-opening-to-first-bloom": "from a late strip and prune to the first bloom of its crop",
    "second-first-bloom-to-end-of-bloom": "from first bloom to the end of a second crop's bloom",
}


def _declared() -> Iterator[tuple[str, Declared]]:
    for span, meaning in SPANS.items():
        for end, word in (("least", "fewest"), ("most", "most")):
            yield (
                f"{span}-{end}",
                Declared(meaning=f"The {word} days {meaning}", unit="days", lowest=0, highest=400),
            )


def _span(
    name: str, of: tuple[str, ...], low: float, high: float, source: str, *, is_weak: bool = False
) -> Iterator[Shipped]:
    for end, value in (("least", low), ("most", high)):
        yield Shipped(name=f"{name}-{end}", of=of, value=value, source=source, is_weak=is_weak)


def _none(name: str, of: tuple[str, ...], reason: str) -> Iterator[Shipped]:
    for end in ("least", "most"):
        yield Shipped(name=f"{name}-{end}", of=of, value=None, reason=reason)


DECLARED = dict(_declared())

SHIPPED = (
    *_span(
        *("opening-to-leaf-out", _PRUNED, 5, 25),
        f"{COMMON}: pruned just before natural leaf-out; the days are assumed",
        is_weak=True,
    ),
    *_span(
        *("opening-to-first-bloom", _PRUNED, 50, 80),
        f"{COMMON}: pruned in the first week of March, in bloom in May and June",
    ),
    *_span("opening-to-first-picking", ("atemoya",), 206, 217, _CERES),
    *_none("opening-to-first-picking", ("sugar-apple", "cherimoya", "custard-apple"), _NOT_FOUND),
    *_span(
        *("first-bloom-to-half-bloom", ("sugar-apple", "cherimoya"), 20, 35),
        f"the middle of a bloom of about two months: {COMMON}, and {_NEW_ZEALAND}",
    ),
    *_span(
        *("first-bloom-to-half-bloom", ("atemoya", "custard-apple"), 20, 35),
        f"{_ASSUMED}: as its relatives",
        is_weak=True,
    ),
    *_span(
        *("first-bloom-to-end-of-bloom", ("sugar-apple",), 45, 65),
        f"mainly May and June: {COMMON}",
    ),
    *_span(
        *("first-bloom-to-end-of-bloom", ("cherimoya",), 50, 70),
        f"about two months: {_NEW_ZEALAND}",
    ),
    *_span(
        *("first-bloom-to-end-of-bloom", ("atemoya", "custard-apple"), 45, 70),
        f"{_ASSUMED}: as its relatives",
        is_weak=True,
    ),
    *_span(*("first-bloom-to-first-picking", ("sugar-apple",), 110, 120), "value from memory"),
    *_span(
        *("first-bloom-to-first-picking", ("atemoya",), 100, 120),
        "FAO Ecocrop 3236: flower to ripe fruit",
    ),
    *_span(
        *("first-bloom-to-first-picking", ("cherimoya",), 120, 210),
        "4-7 months from pollination: practical manual, Peru",
    ),
    *_span(
        *("first-bloom-to-first-picking", ("soursop",), 150, 180), "5-6 months: value from memory"
    ),
    *_span(
        *("first-bloom-to-first-picking", ("custard-apple",), 150, 180),
        "annonas, 5-6 months: Pinto et al. 2005, s. 5.3",
    ),
    *_span("skin-change-to-first-picking", _ALL, 5, 20, _ASSUMED, is_weak=True),
    *_span(*("first-picking-to-last-picking", _PRUNED, 60, 85), f"ten weeks or more: {COMMON}"),
    *_none("first-picking-to-last-picking", ("soursop",), _NOT_FOUND),
    *_none("first-bloom-to-half-bloom", ("soursop",), _NOT_FOUND),
    *_none("first-bloom-to-end-of-bloom", ("soursop",), _NOT_FOUND),
    *_span(
        *("lowland-opening-to-first-bloom", ("sugar-apple",), 29, 54),
        f"149 and 164 days from bud to ripe fruit ({_MENDES}), less 110-120 from flower to fruit"
        " (value from memory)",
    ),
    *_span(
        *("lowland-opening-to-first-picking", ("sugar-apple",), 149, 164),
        f"{_MENDES}: from closed leaf bud to ripe fruit",
    ),
    *_span("lowland-opening-to-first-picking", ("atemoya",), 206, 217, _CERES),
    *_none("lowland-opening-to-first-bloom", ("atemoya", "cherimoya", "custard-apple"), _NOT_FOUND),
    *_none("lowland-opening-to-first-picking", ("cherimoya", "custard-apple"), _NOT_FOUND),
    *_span(
        *("second-opening-to-first-bloom", ("cherimoya",), 16, 46),
        f"tipped and stripped on 1 or 15 June, in bloom in July: {_SOLER}",
    ),
    *_span(
        *("second-first-bloom-to-end-of-bloom", ("cherimoya",), 7, 14),
        f"two weeks at most: {_SOLER}",
    ),
    *_none(
        "second-opening-to-first-bloom", ("sugar-apple", "atemoya", "custard-apple"), _NOT_FOUND
    ),
    *_none(
        "second-first-bloom-to-end-of-bloom",
        ("sugar-apple", "atemoya", "custard-apple"),
        _NOT_FOUND,
    ),
    *(
        each
        for span in SPANS
        if "opening" in span or span.startswith("second")
        for each in _none(span, ("soursop",), _SOURSOP)
    ),
)
