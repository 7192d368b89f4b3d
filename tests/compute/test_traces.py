"""Traces of made-up chains: what is reached, in which order, and what is missing."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.traces import (
    EVENTS,
    Asked,
    Business,
    Chain,
    Coverage,
    Entry,
    Event,
    Fruit,
    Key,
    Kind,
    Link,
    Node,
    TraceError,
    Weighing,
    records_of,
    shape,
    stated,
)

ORDER = (Kind.TREE, Kind.WEIGHING, Kind.DELIVERY, Kind.INTAKE, Kind.LOT)
DAY = date(2026, 9, 10)


def key(kind: Kind, number: int) -> Key:
    return Key(kind=kind, id=str(number))


def chain(links: list[Link], *starts: Key) -> Chain:
    keys = {*starts, *(end for link in links for end in (link.source, link.target))}
    nodes = {each: Node(key=each, label=f"{each.kind} {each.id}") for each in keys}
    return Chain(starts=starts, nodes=nodes, links=links)


def up(kind: Kind, source: int, target: int, net_g: int | None = None) -> Link:
    """From a record of this kind to one of the next."""
    after = ORDER[ORDER.index(kind) + 1]
    return Link(source=key(kind, source), target=key(after, target), net_g=net_g)


TWO_LOTS = [
    up(Kind.TREE, 1, 1),
    up(Kind.WEIGHING, 1, 1),
    up(Kind.DELIVERY, 1, 1),
    up(Kind.INTAKE, 1, 1, 40),
    up(Kind.INTAKE, 1, 2, 20),
    up(Kind.INTAKE, 9, 2, 30),
]


def test_a_trace_back_does_not_turn_round() -> None:
    """Lot 1 shares an intake with lot 2, and is not linked to it by that."""
    found = {str(node.key.id) for node in shape(chain(TWO_LOTS, key(Kind.LOT, 1))).nodes}
    assert found == {"1"}


def test_a_trace_from_the_middle_goes_both_ways() -> None:
    found = shape(chain(TWO_LOTS, key(Kind.DELIVERY, 1)))
    assert [node.key for node in found.nodes] == [
        *(key(kind, 1) for kind in ORDER),
        key(Kind.LOT, 2),
    ]


def test_what_was_packed_by_intake_adds_up_over_lots() -> None:
    of = chain(TWO_LOTS, key(Kind.INTAKE, 1))
    whole = {**of.nodes, key(Kind.INTAKE, 1): Node(key=key(Kind.INTAKE, 1), label="it", net_g=75)}
    found = shape(Chain(starts=of.starts, nodes=whole, links=of.links))
    [left] = [gap for gap in found.missing if gap.code == "partly-packed"]
    assert left.net_g == 15


def test_a_chain_without_its_start_is_refused() -> None:
    with pytest.raises(TraceError):
        shape(Chain(starts=(key(Kind.LOT, 5),), nodes={}, links=[]))


def test_many_nodes_with_one_gap_are_told_in_one_sentence() -> None:
    weighings = [up(Kind.WEIGHING, number, 1) for number in range(8)]
    found = shape(chain(weighings, key(Kind.DELIVERY, 1)))
    [gap] = [gap for gap in found.missing if gap.code == "no-tree"]
    assert gap.reason.endswith("harvest-weight 4 and 3 more.")
    assert len(gap.nodes) == 8


links = st.builds(up, st.sampled_from(ORDER[:-1]), st.integers(0, 4), st.integers(0, 4))


@given(st.lists(links, max_size=30), st.sampled_from(ORDER), st.integers(0, 4))
def test_back_and_forward_agree(found: list[Link], kind: Kind, number: int) -> None:
    """What leads to a node is what is led on to it: each reached node reaches the start."""
    start = key(kind, number)
    for node in shape(chain(found, start)).nodes:
        seen = {each.key for each in shape(chain([*found], node.key)).nodes} if found else {start}
        assert start in seen


@given(st.lists(links, max_size=30))
def test_no_link_leads_out_of_a_trace(found: list[Link]) -> None:
    trace = shape(chain(found, key(Kind.DELIVERY, 1)))
    known = {node.key for node in trace.nodes}
    assert all(link.source in known and link.target in known for link in trace.links)


# Elements ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("event", "paragraph", "count"),
    [
        # 21 CFR 1.1325(a)(1) has seven elements, quantity and unit in two columns here; name and
        # phone of the harvester go to the packer by (a)(2) (value from memory).
        (Event.HARVESTING, "1.1325(a)(1)", 10),
        (Event.COOLING, "1.1325(b)", 8),  # seven, with the unit apart (value from memory)
        (Event.SHIPPING, "1.1340(a)", 9),  # eight, with the unit apart
    ],
)
def test_events_have_the_elements_of_their_paragraph(
    event: Event, paragraph: str, count: int
) -> None:
    assert len(EVENTS[event]) == count
    assert EVENTS[event][0].paragraph == paragraph


@pytest.mark.parametrize(
    ("grams", "counted", "quantity", "unit"),
    [
        ({"net_g": 60_500}, None, 60.5, "kg"),
        ({"net_g": 60_500}, 200, 60.5, "kg"),  # the scale goes before the count
        ({"estimated_g": 24_000}, None, 24.0, "kg, estimated"),
        ({"estimated_g": 24_000}, 80, 80, "fruit"),  # what was counted goes before an estimate
        ({}, None, None, "kg"),
    ],
)
def test_a_quantity_is_as_it_was_measured(
    grams: dict[str, Any], counted: int | None, quantity: float | None, unit: str
) -> None:
    weighing = Weighing(
        fruit=Fruit(species="soursop"),
        block="N1",
        docket="",
        harvester=Business(id="1", code="F"),
        fruit_count=counted,
    )
    node = Node(key=key(Kind.WEIGHING, 1), label="it", on=DAY, facts=weighing, **grams)
    only = Chain(starts=(node.key,), nodes={node.key: node}, links=[])
    [record] = records_of(shape(only))
    assert (record.values["Quantity"], record.values["Unit of measure"]) == (quantity, unit)
    assert ("Quantity" in record.missing) is (quantity is None)
    assert "Commodity and variety (variety)" in record.missing


# Coverage ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("species", ["sugar apple", "soursop", "a fruit that nobody has named"])
def test_no_species_is_built_in(species: str) -> None:
    [answer] = stated([], [Asked(owner="1", owner_code="F", species=species, on=DAY)])
    assert answer.coverage is Coverage.NOT_STATED


def test_another_business_does_not_speak_for_this_one() -> None:
    entry: Any = Entry(
        owner="2",
        species="soursop",
        is_covered=True,
        starts_on=DAY,
        ends_on=None,
        source="a list",
        entered_by="",
    )
    [answer] = stated([entry], [Asked(owner="1", owner_code="F", species="soursop", on=DAY)])
    assert answer.coverage is Coverage.NOT_STATED
