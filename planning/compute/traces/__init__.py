"""Traceability: from a lot to trees and back, and the key data elements of each event.

The elements are those of 21 CFR part 1 subpart S, "Additional Traceability Records for Certain
Foods": harvesting and cooling (1.1325), initial packing (1.1330), lot codes (1.1320) and shipping
(1.1340). A lot code is given once, at initial packing, and shipping adds none.
"""

from planning.compute.traces.coverage import (
    CAUTION,
    Asked,
    Coverage,
    Entry,
    Stated,
    asked_of,
    stated,
)
from planning.compute.traces.elements import EVENTS, Element, Event
from planning.compute.traces.records import TraceRecord, records_of
from planning.compute.traces.shaping import shape
from planning.compute.traces.values import (
    Business,
    Chain,
    Delivery,
    Fruit,
    Gap,
    Intake,
    Key,
    Kind,
    Link,
    Lot,
    Node,
    Trace,
    TraceError,
    Weighing,
)

__all__ = [
    "CAUTION",
    "EVENTS",
    "Asked",
    "Business",
    "Chain",
    "Coverage",
    "Delivery",
    "Element",
    "Entry",
    "Event",
    "Fruit",
    "Gap",
    "Intake",
    "Key",
    "Kind",
    "Link",
    "Lot",
    "Node",
    "Stated",
    "Trace",
    "TraceError",
    "TraceRecord",
    "Weighing",
    "asked_of",
    "records_of",
    "shape",
    "stated",
]
