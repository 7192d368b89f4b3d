"""Outlines of blocks: GeoJSON (RFC 7946) polygons in longitude and latitude, WGS 84."""

import math
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
    if polygon.is_empty or polygon.area == 0:
        raise _refuse("no-area", "The outline encloses no area.")
    if not polygon.is_valid:
        reason = is_valid_reason(polygon)
        raise _refuse(
            "boundary-crosses-itself", f"The outline crosses itself or overlaps: {reason}."
        )


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
