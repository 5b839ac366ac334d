"""Public servers asked where the plan names none, against a general-purpose library: osmnx."""

from __future__ import annotations

from osmnx import settings

from simulator.fetch.geocode import GEOCODER
from simulator.fetch.overpass import OVERPASS


def test_maps_and_places_are_asked_for_where_osmnx_asks() -> None:
    assert f"{settings.overpass_url}/interpreter" == OVERPASS
    assert settings.nominatim_url.rstrip("/") == GEOCODER
