"""How much comes off a shoot, and when a block is pruned.

Sugar apple: one half to two thirds of each one-year shoot; weak shoots are removed whole (common
practice). Atemoya: year-old laterals are cut to 10-15 cm, 4-6 buds; a lateral of 60 cm by 10 mm is
ideal, one over 100 cm excessive (Sanewski 1991 in Paull & Duarte).
"""

from planning.compute.figures.values import Declared, Shipped

COMMON = "common practice, no source"
_SANEWSKI = "Sanewski 1991 in Paull & Duarte"
_PRUNED = ("sugar-apple", "atemoya", "cherimoya", "custard-apple")
_EVERGREEN = (
    "It does not apply: soursop is evergreen and flowers on old wood, so shoots are not cut back."
)
_NO_RULE = "No published cut-back was found for this species: enter the farm's own."
_BY_LENGTH = "Atemoya laterals are cut to a length, not by a share: see lateral-least-cm."
_BY_SHARE = "Shoots of this species are cut by a share, not to a length."

DECLARED = {
    "cut-back-least": Declared(
        meaning="The least share of a shoot's length to take off", unit="", lowest=0, highest=1
    ),
    "cut-back-most": Declared(
        meaning="The greatest share of a shoot's length to take off", unit="", lowest=0, highest=1
    ),
    "lateral-least-cm": Declared(
        meaning="The least length to leave on a lateral", unit="cm", lowest=1, highest=200
    ),
    "lateral-most-cm": Declared(
        meaning="The greatest length to leave on a lateral", unit="cm", lowest=1, highest=200
    ),
    "lateral-least-buds": Declared(
        meaning="The fewest buds to leave on a lateral", unit="buds", lowest=1, highest=50
    ),
    "lateral-most-buds": Declared(
        meaning="The most buds to leave on a lateral", unit="buds", lowest=1, highest=50
    ),
    "lateral-excessive-cm": Declared(
        meaning="A lateral longer than this grew too strongly", unit="cm", lowest=10, highest=1000
    ),
    "weak-shoot-share": Declared(
        meaning="A shoot shorter than this share of the sample's median goes altogether",
        unit="",
        lowest=0,
        highest=1,
    ),
    "weak-shoot-mm": Declared(
        meaning="A shoot thinner than this at its base goes altogether",
        unit="mm",
        lowest=1,
        highest=50,
    ),
    "pruning-opens-before-leaf-out": Declared(
        meaning="The window opens so many days before leaf-out", unit="days", lowest=0, highest=120
    ),
    "pruning-best-before-leaf-out": Declared(
        meaning="It is best done so many days before leaf-out", unit="days", lowest=0, highest=120
    ),
    "pruning-latest-after-leaf-out": Declared(
        meaning="The last day is so many days after leaf-out", unit="days", lowest=0, highest=60
    ),
}

SHIPPED = (
    Shipped(name="cut-back-least", of=("sugar-apple",), value=1 / 2, source=COMMON),
    Shipped(name="cut-back-most", of=("sugar-apple",), value=2 / 3, source=COMMON),
    Shipped(name="lateral-least-cm", of=("atemoya",), value=10, source=_SANEWSKI),
    Shipped(name="lateral-most-cm", of=("atemoya",), value=15, source=_SANEWSKI),
    Shipped(name="lateral-least-buds", of=("atemoya",), value=4, source=_SANEWSKI),
    Shipped(name="lateral-most-buds", of=("atemoya",), value=6, source=_SANEWSKI),
    Shipped(name="lateral-excessive-cm", of=("atemoya",), value=100, source=_SANEWSKI),
    *(
        Shipped(name=name, of=("atemoya",), value=None, reason=_BY_LENGTH)
        for name in ("cut-back-least", "cut-back-most")
    ),
    *(
        Shipped(name=name, of=("sugar-apple",), value=None, reason=_BY_SHARE)
        for name in ("lateral-least-cm", "lateral-most-cm")
    ),
    *(
        Shipped(name=name, of=("cherimoya", "custard-apple"), value=None, reason=_NO_RULE)
        for name in ("cut-back-least", "cut-back-most", "lateral-least-cm", "lateral-most-cm")
    ),
    *(Shipped(name=name, of=("soursop",), value=None, reason=_EVERGREEN) for name in DECLARED),
    Shipped(
        name="weak-shoot-share",
        of=_PRUNED,
        value=0.5,
        source="assumed: that weak shoots go is common practice; no source says how weak",
        is_weak=True,
    ),
    Shipped(
        name="weak-shoot-mm",
        of=_PRUNED,
        value=None,
        reason="No source says how thin a weak shoot is: enter the farm's own.",
    ),
    Shipped(
        name="pruning-opens-before-leaf-out",
        of=_PRUNED,
        value=14,
        source="common practice, no source: just before leaf-out; two weeks are assumed",
    ),
    Shipped(
        name="pruning-best-before-leaf-out",
        of=_PRUNED,
        value=3,
        source="common practice, no source: just before leaf-out; three days are assumed",
    ),
    Shipped(
        name="pruning-latest-after-leaf-out",
        of=_PRUNED,
        value=7,
        source="common practice, no source: when new shoots have just begun to push; a week is"
        " assumed",
    ),
)
