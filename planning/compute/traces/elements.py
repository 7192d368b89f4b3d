"""The key data elements of each event, as columns.

21 CFR part 1 subpart S. Harvesting and cooling: 1.1325 (a) and (b), their elements from memory.
Initial packing: 1.1330 (a), items 1 to 10 read, 11 to 16 from memory. Shipping: 1.1340 (a), read;
it does not apply before initial packing. Where an element is "if applicable" there, a blank is not
counted as missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Event(StrEnum):
    HARVESTING = "harvesting"
    COOLING = "cooling"
    PACKING = "initial packing"
    SHIPPING = "shipping"


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One column: its name, the paragraph it comes from, and whether it may be blank."""

    name: str
    paragraph: str
    is_optional: bool = False


def _elements(paragraph: str, *names: str, optional: Sequence[str] = ()) -> tuple[Element, ...]:
    return tuple(
        Element(name=name, paragraph=paragraph, is_optional=name in optional) for name in names
    )


RECIPIENT = "Location description of the next recipient"
FRUIT = "Commodity and variety"
QUANTITY, UNIT = "Quantity", "Unit of measure"
FARM = "Location description of the farm"
FIELD = "Name of the field or growing area"
HARVESTED = "Date of harvesting"
DOCUMENT = "Reference document type and number"
COOLED_AT, COOLED_ON = "Location description of cooling", "Date of cooling"
HARVESTER, HARVESTER_PHONE = "Harvester's business name", "Harvester's phone"
CODE = "Traceability lot code"
PRODUCT = "Product description"
RECEIVED_ON = "Date received"
QUANTITY_RECEIVED, UNIT_RECEIVED = "Quantity received", "Unit of measure received"
QUANTITY_PACKED, UNIT_PACKED = "Quantity packed", "Unit of measure packed"
UNITS_PACKED, PACK_UNIT = "Packages of the lot", "Package"
PACKED_AT, PACKED_ON = "Location description of packing (lot code source)", "Date of packing"
SHIPPED_FROM, SHIPPED_ON = "Location description of shipping", "Date of shipping"
SOURCE = "Location description of the lot code source"

EVENTS: dict[Event, tuple[Element, ...]] = {
    Event.HARVESTING: (
        *_elements("1.1325(a)(1)", RECIPIENT, FRUIT, QUANTITY, UNIT, FARM, FIELD, HARVESTED),
        *_elements("1.1325(a)(1)", DOCUMENT),
        *_elements("1.1325(a)(2)", HARVESTER, HARVESTER_PHONE),
    ),
    Event.COOLING: _elements(
        "1.1325(b)", RECIPIENT, FRUIT, QUANTITY, UNIT, COOLED_AT, COOLED_ON, FARM, DOCUMENT
    ),
    Event.PACKING: _elements(
        "1.1330(a)",
        *(FRUIT, RECEIVED_ON, QUANTITY_RECEIVED, UNIT_RECEIVED, FARM, FIELD),
        *(HARVESTER, HARVESTER_PHONE, HARVESTED, COOLED_AT, COOLED_ON, CODE, PRODUCT),
        *(QUANTITY_PACKED, UNIT_PACKED, UNITS_PACKED, PACK_UNIT, PACKED_AT, PACKED_ON, DOCUMENT),
        optional=(COOLED_AT, COOLED_ON, UNITS_PACKED, PACK_UNIT),
    ),
    Event.SHIPPING: _elements(
        "1.1340(a)",
        *(CODE, QUANTITY, UNIT, PRODUCT, RECIPIENT, SHIPPED_FROM, SHIPPED_ON, SOURCE, DOCUMENT),
    ),
}
