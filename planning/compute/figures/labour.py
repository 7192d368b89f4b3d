"""What a flower and a tree take in hours, pollen and set."""

from planning.compute.figures.values import Declared, Shipped

COMMON = "common practice, no source"
_PAULL = "Paull & Duarte"
_NEW_ZEALAND = "cherimoya hand-pollination notes, New Zealand"
_ALL = ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple")
_EXPERIENCED = "Paull & Duarte: 80-100 % with experienced hands; the lower end"

DECLARED = {
    "flowers-per-hour": Declared(
        meaning="Flowers that one person brushes in an hour", unit="flowers", lowest=1, highest=2000
    ),
    "minutes-per-tree-visit": Declared(
        meaning="Minutes that one person takes for a tree at a visit",
        unit="min",
        lowest=0.1,
        highest=240,
    ),
    "walk-minutes-per-tree": Declared(
        meaning="Minutes from one tree to the next", unit="min", lowest=0, highest=60
    ),
    "donors-per-flower": Declared(
        meaning="Pollen flowers needed for each flower brushed", unit="", lowest=0.01, highest=5
    ),
    "gather-minutes-per-donor": Declared(
        meaning="Minutes to gather one pollen flower", unit="min", lowest=0, highest=60
    ),
    "bag-minutes-per-flower": Declared(
        meaning="Minutes to bag one flower", unit="min", lowest=0, highest=60
    ),
    "visits": Declared(
        meaning="Visits to a tree over its bloom", unit="visits", lowest=1, highest=60
    ),
    "days-between-visits": Declared(
        meaning="Days from one visit to the next", unit="days", lowest=1, highest=60
    ),
    "expected-set": Declared(
        meaning="Share of the brushed flowers that set", unit="", lowest=0.01, highest=1
    ),
    "expected-retention": Declared(
        meaning="Share of the fruit set that stays to be picked", unit="", lowest=0.01, highest=1
    ),
    "target-fruit-per-tree": Declared(
        meaning="Fruit that a tree is to carry", unit="fruit", lowest=1, highest=10000
    ),
    "flowers-per-tree": Declared(
        meaning="Flowers of a grown tree over its bloom",
        unit="flowers",
        lowest=1,
        highest=100000,
    ),
    "bloom-days": Declared(
        meaning="Days from first bloom to its end", unit="days", lowest=1, highest=365
    ),
    "middle-half-share": Declared(
        meaning="Share of the flowers that open in the middle half of the bloom",
        unit="",
        lowest=0.5,
        highest=1,
    ),
}

SHIPPED = (
    Shipped(name="flowers-per-hour", of=_ALL, value=150, source=f"{_PAULL}: about 150"),
    Shipped(name="minutes-per-tree-visit", of=_ALL, value=10, source=COMMON),
    Shipped(
        name="walk-minutes-per-tree",
        of=_ALL,
        value=1,
        source="assumed, no source: time your own",
        is_weak=True,
    ),
    Shipped(
        name="donors-per-flower",
        of=_ALL,
        value=0.5,
        source=f"{_PAULL}: 20-30 pollen flowers serve 50-60 flowers",
    ),
    Shipped(
        name="gather-minutes-per-donor",
        of=_ALL,
        value=0.4,
        source="assumed, no source: as long as brushing a flower (150 an hour)",
        is_weak=True,
    ),
    Shipped(
        name="bag-minutes-per-flower",
        of=_ALL,
        value=0.4,
        source="assumed, no source: as long as brushing a flower (150 an hour)",
        is_weak=True,
    ),
    Shipped(name="visits", of=_ALL, value=5, source="4-5 visits: common practice, no source"),
    Shipped(
        name="days-between-visits",
        of=_ALL,
        value=3,
        source=f"every 2-3 days: {_NEW_ZEALAND}",
    ),
    Shipped(
        name="expected-set",
        of=("sugar-apple",),
        value=0.9,
        source="about 90 %: common practice; 90-93 % by hand: Cogez & Lyannaz 1996 in Pinto et al."
        " 2005",
    ),
    Shipped(
        name="expected-set",
        of=("atemoya", "cherimoya", "custard-apple"),
        value=0.8,
        source=_EXPERIENCED,
    ),
    Shipped(
        name="expected-set", of=("soursop",), value=0.73, source="Pinto & Ramos 1999: 73 % by brush"
    ),
    Shipped(
        name="expected-retention",
        of=_ALL,
        value=0.75,
        source="assumed, no source: the farm's own counts are better",
        is_weak=True,
    ),
    Shipped(
        name="target-fruit-per-tree",
        of=_ALL,
        value=None,
        reason="How much a tree is to carry is the farm's choice: enter it.",
    ),
    Shipped(
        name="flowers-per-tree",
        of=("cherimoya",),
        value=1000,
        source=f"about 1,000: {_NEW_ZEALAND}",
    ),
    Shipped(
        name="flowers-per-tree",
        of=("sugar-apple", "atemoya", "soursop", "custard-apple"),
        value=None,
        reason="No published count of flowers was found: count a few trees and enter it.",
    ),
    Shipped(
        name="bloom-days",
        of=("sugar-apple",),
        value=60,
        source="mainly May and June: common practice, no source",
    ),
    Shipped(
        name="bloom-days",
        of=("cherimoya",),
        value=60,
        source=f"about two months: {_NEW_ZEALAND}",
    ),
    Shipped(
        name="bloom-days",
        of=("atemoya", "custard-apple"),
        value=60,
        source="assumed, no source: as its relatives",
        is_weak=True,
    ),
    Shipped(
        name="bloom-days",
        of=("soursop",),
        value=None,
        reason="Soursop flowers over much of the year: enter the length of the bloom you work.",
    ),
    Shipped(
        name="middle-half-share",
        of=("cherimoya",),
        value=0.8,
        source=f"about 80 % in the middle four of eight weeks: {_NEW_ZEALAND}",
    ),
    Shipped(
        name="middle-half-share",
        of=("sugar-apple", "atemoya", "soursop", "custard-apple"),
        value=0.8,
        source=f"as cherimoya: {_NEW_ZEALAND}",
        is_weak=True,
    ),
)
