"""A chain of records put in order, with what is missing in it.

Back from where the trace starts, each lot should lead to intakes, each intake to a delivery, each
delivery to weighings and each weighing to trees; forward the other way round. A delivery that
joins weighings, and a lot that joins intakes, is followed whole: kilos are never split.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date

from planning.compute.traces.values import Chain, Gap, Key, Kind, Link, Lot, Node, Trace, TraceError

# By the code of a gap, what its sentence says before it names the nodes.
WORDS = {
    "lot-without-intake": "No intake is recorded in it",
    "no-picking-day": "The block is known, but no delivery leads to weighings and picking days",
    "no-origin": "Neither a delivery nor a block is recorded",
    "delivery-without-weighing": "No weighing is named: block and picking day are not known",
    "no-tree": "The block is known, and no tree",
    "not-shown": "What lies behind is not shared with you",
    "own-part": "Only your own part is shown",
    "not-delivered": "In no delivery",
    "not-received": "No intake is recorded of it",
    "not-packed": "In no lot",
    "partly-packed": "In lots with a part only, and with the rest in none",
    "not-shipped": "No shipping day is recorded",
    "not-shown-on": "Where it went on is not shared with you",
}
NAMED = 5  # of many nodes in one sentence
ORDER = list(reversed(Kind))


def shape(chain: Chain) -> Trace:
    """The nodes that can be reached from a start, their links, and what is missing."""
    if not set(chain.starts) <= set(chain.nodes):
        raise TraceError("a trace starts at nodes of its chain")
    before, after = _sides(chain)
    reached = before | after
    links = sorted(
        {link for link in chain.links if link.source in reached and link.target in reached}
    )
    nodes = sorted((chain.nodes[key] for key in reached), key=_place)
    gaps = [*_gaps_back(chain, before, links), *_gaps_on(chain, after, links)]
    return Trace(starts=chain.starts, nodes=tuple(nodes), links=tuple(links), missing=tuple(gaps))


def _place(node: Node) -> tuple[int, str, str]:
    return ORDER.index(node.key.kind), node.on.isoformat() if node.on else "", node.label


def _sides(chain: Chain) -> tuple[set[Key], set[Key]]:
    """What lies behind the starts and what comes after them, the starts in both.

    Weighings that come after a block, tree or day also bring along where and when they were
    picked.
    """
    sources, targets = defaultdict(set), defaultdict(set)
    for link in chain.links:
        if link.source in chain.nodes and link.target in chain.nodes:
            sources[link.target].add(link.source)
            targets[link.source].add(link.target)
    before, after = _reach(chain.starts, sources), _reach(chain.starts, targets)
    picked = [key for key in after if key.kind is Kind.WEIGHING and key not in before]
    places = {place for key in picked for place in sources[key] if place.kind is not Kind.TREE}
    return before, after | places


def _reach(starts: Iterable[Key], neighbours: dict[Key, set[Key]]) -> set[Key]:
    reached, waiting = set(starts), list(starts)
    while waiting:
        found = neighbours[waiting.pop()] - reached
        reached |= found
        waiting.extend(found)
    return reached


# What is missing ---------------------------------------------------------------------------------


def _gaps_back(chain: Chain, keys: set[Key], links: Sequence[Link]) -> Iterator[Gap]:
    kinds: dict[Key, set[Kind]] = defaultdict(set)
    for link in links:
        kinds[link.target].add(link.source.kind)

    def lacking(kind: Kind, source: Kind) -> list[Node]:
        return [
            chain.nodes[key]
            for key in sorted(keys - chain.hidden_back)
            if key.kind is kind and source not in kinds[key]
        ]

    loose = lacking(Kind.INTAKE, Kind.DELIVERY)
    placed = [node for node in loose if Kind.BLOCK in kinds[node.key]]
    unplaced = [node for node in loose if Kind.BLOCK not in kinds[node.key]]
    yield from _gap("lot-without-intake", lacking(Kind.LOT, Kind.INTAKE))
    yield from _gap("no-picking-day", placed)
    yield from _gap("no-origin", unplaced)
    yield from _gap("delivery-without-weighing", lacking(Kind.DELIVERY, Kind.WEIGHING))
    yield from _gap("no-tree", lacking(Kind.WEIGHING, Kind.TREE))
    yield from _gap("not-shown", [chain.nodes[key] for key in sorted(keys & chain.hidden_back)])
    lots = [chain.nodes[key] for key in sorted(keys)]
    parts = [n for n in lots if isinstance(n.facts, Lot) and not n.facts.is_packers_view]
    yield from _gap("own-part", parts)


def _gaps_on(chain: Chain, keys: set[Key], links: Sequence[Link]) -> Iterator[Gap]:
    kinds: dict[Key, set[Kind]] = defaultdict(set)
    packed_g: dict[Key, int] = defaultdict(int)
    for link in links:
        kinds[link.source].add(link.target.kind)
        if link.target.kind is Kind.LOT:
            packed_g[link.source] += link.net_g or 0

    def lacking(kind: Kind, target: Kind) -> list[Node]:
        return [
            chain.nodes[key]
            for key in sorted(keys - chain.hidden_on)
            if key.kind is kind and target not in kinds[key]
        ]

    def left_g(node: Node) -> int:
        return max((node.net_g or 0) - packed_g[node.key], 0)

    nodes = [chain.nodes[key] for key in sorted(keys)]
    lots = [node for node in nodes if isinstance(node.facts, Lot)]
    parts = [n for n in nodes if n.key in set(packed_g) - chain.hidden_on and left_g(n)]
    yield from _gap("not-delivered", lacking(Kind.WEIGHING, Kind.DELIVERY), _grams)
    yield from _gap("not-received", lacking(Kind.DELIVERY, Kind.INTAKE))
    yield from _gap("not-packed", lacking(Kind.INTAKE, Kind.LOT), _grams)
    yield from _gap("partly-packed", parts, left_g)
    yield from _gap("not-shipped", [n for n in lots if _shipped_on(n) is None])
    yield from _gap("not-shown-on", [chain.nodes[key] for key in sorted(keys & chain.hidden_on)])


def _shipped_on(node: Node) -> date | None:
    return node.facts.shipped_on if isinstance(node.facts, Lot) else None


def _grams(node: Node) -> int:
    return (node.net_g or 0) + (node.estimated_g or 0)


def _gap(
    code: str, nodes: Sequence[Node], grams: Callable[[Node], int] | None = None
) -> Iterator[Gap]:
    """One gap for all nodes that have it, if any has."""
    if not nodes:
        return
    net_g = sum(map(grams, nodes)) if grams else None
    kilos = "" if net_g is None else f" ({net_g / 1000:g} kg)"
    names = ", ".join(node.label for node in nodes[:NAMED])
    more = f" and {len(nodes) - NAMED} more" if len(nodes) > NAMED else ""
    yield Gap(
        code=code,
        reason=f"{WORDS[code]}{kilos}: {names}{more}.",
        nodes=tuple(node.key for node in nodes),
        net_g=net_g,
    )
