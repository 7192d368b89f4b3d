"""Places on the earth: outlines of blocks (GeoJSON, RFC 7946) and farms' coordinates, WGS 84."""

import math
import re
from functools import cache
from importlib import resources
from typing import Any

from django.core.exceptions import ValidationError
from pyproj import Geod
from shapely import is_valid_reason
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon, Polygon, shape

MAX_POINTS = 10_000
EARTH = Geod(ellps="WGS84")


def check_boundary(value: Any) -> None:
    """Refuse what is no simple polygon on the earth, with the reason."""
    outline(value)


def area_m2(value: Any) -> float:
    """Geodesic area on the WGS 84 ellipsoid, in square metres (pyproj, Karney 2013)."""
    area, _ = EARTH.geometry_area_perimeter(outline(value))
    return abs(area)


def outline(value: Any) -> Polygon | MultiPolygon:
    """The polygon as a shape; ValidationError when it is none."""
    if not isinstance(value, dict) or value.get("type") not in {"Polygon", "MultiPolygon"}:
        raise _refuse("not-a-polygon", "The outline must be a GeoJSON Polygon or MultiPolygon.")
    points = _points(value.get("coordinates"))
    if len(points) > MAX_POINTS:
        raise _refuse("too-many-points", f"The outline has more than {MAX_POINTS} points.")
    for longitude, latitude in points:
        if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
            raise _refuse("off-the-earth", f"{longitude}, {latitude} is no longitude and latitude.")
    try:
        polygon = shape(value)
    except (ValueError, TypeError, IndexError, GEOSException, AttributeError):
        raise _refuse(
            "not-a-polygon", "A ring needs at least four points, the last the first."
        ) from None
    _check_rings(polygon)
    return polygon


def _check_rings(polygon: Polygon | MultiPolygon) -> None:
    if not polygon.is_valid:
        reason = is_valid_reason(polygon)
        raise _refuse(
            "boundary-crosses-itself", f"The outline crosses itself or overlaps: {reason}."
        )
    if polygon.is_empty or polygon.area == 0:
        raise _refuse("no-area", "The outline encloses no area.")


def _points(coordinates: Any) -> list[tuple[float, float]]:
    """Every [longitude, latitude] of nested rings; depth is bounded by the two kinds of polygon."""
    found: list[tuple[float, float]] = []
    rings = [(coordinates, 0)]
    while rings:
        part, depth = rings.pop()
        if _is_point(part):
            found.append((float(part[0]), float(part[1])))
        elif isinstance(part, list) and part and depth < 3:
            rings.extend((inner, depth + 1) for inner in part)
        else:
            raise _refuse("not-a-polygon", "Coordinates must be rings of [longitude, latitude].")
    return found


def _is_point(part: Any) -> bool:
    return (
        isinstance(part, list)
        and len(part) in {2, 3}
        and all(isinstance(n, int | float) and not isinstance(n, bool) for n in part)
        and all(math.isfinite(n) for n in part)
    )


def _refuse(code: str, text: str) -> ValidationError:
    return ValidationError(text, code=code)


# Coordinates of farms ----------------------------------------------------------------------------

Place = tuple[float, float]  # latitude and longitude, degrees
ISO_6709 = re.compile(r"([+-]\d{4,7})([+-]\d{5,7})")


def look_swapped(place: Place, time_zone: str) -> bool:
    """Whether latitude and longitude would suit the time zone better the other way round.

    A zone's own place is the one that the IANA time zone database gives for it.
    """
    latitude, longitude = place
    centre = _zone_places().get(time_zone)
    if centre is None or abs(longitude) > 90:
        return False
    return _distance_m((longitude, latitude), centre) < _distance_m(place, centre)


def _distance_m(one: Place, other: Place) -> float:
    _, _, distance = EARTH.inv(one[1], one[0], other[1], other[0])
    return float(distance)


@cache
def _zone_places() -> dict[str, Place]:
    table = resources.files("tzdata.zoneinfo").joinpath("zone.tab").read_text(encoding="utf-8")
    lines = (line.split("\t") for line in table.splitlines() if not line.startswith("#"))
    return {zone: _iso_6709(place) for _, place, zone, *_ in lines}


def _iso_6709(text: str) -> Place:
    """+3238-01654 (degrees and minutes, perhaps seconds) as degrees."""
    found = ISO_6709.fullmatch(text)
    if found is None:
        raise ValueError(f"{text} is no ISO 6709 place")
    return _degrees(found[1], whole=2), _degrees(found[2], whole=3)


def _degrees(text: str, *, whole: int) -> float:
    sign, digits = (-1 if text[0] == "-" else 1), text[1:]
    minutes, seconds = digits[whole : whole + 2], digits[whole + 2 :] or "0"
    return sign * (int(digits[:whole]) + int(minutes) / 60 + int(seconds) / 3600)
