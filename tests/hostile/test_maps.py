"""Map files that grow without end are refused before they are held."""

from __future__ import annotations

import bz2
import gzip
import tracemalloc
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.ground.osm import LONGEST_ELEMENT_BYTES, read_extract
from simulator.ground.streets import Streets
from tests.conftest import town_xml

PACK = {".osm": lambda raw: raw, ".osm.gz": gzip.compress, ".osm.bz2": bz2.compress}


@pytest.mark.parametrize("ending", PACK)
@pytest.mark.parametrize("kind", ["attribute", "no end", "comment"])
def test_a_giant_element_is_refused_at_once(kind: str, ending: str, tmp_path: Path) -> None:
    giant = "x" * (20 * LONGEST_ELEMENT_BYTES)
    start = '<?xml version="1.0"?><osm version="0.6">'
    body = {
        "attribute": f'{start}<node id="1" lat="1" lon="1"><tag k="n" v="{giant}"/></node></osm>',
        "no end": f"{start}<node {giant}",
        "comment": f"{start}<!-- {giant}",
    }[kind]
    path = tmp_path / f"town{ending}"
    path.write_bytes(PACK[ending](body.encode()))
    del body, giant
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="an element longer than 1 MB"):
            read_extract(path)
        assert tracemalloc.get_traced_memory()[1] < 8 * LONGEST_ELEMENT_BYTES
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("ending", PACK)
def test_a_map_of_ordinary_size_is_read(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"town{ending}"
    path.write_bytes(PACK[ending](town_xml().encode()))
    assert read_extract(path).streets.tail.size > 0


LAUGHS = "".join(
    f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' if n else '<!ENTITY l0 "ha">' for n in range(12)
)


@pytest.mark.parametrize("name", ["town.graphml", "town.osm"])
def test_entities_that_multiply_are_refused(name: str, tmp_path: Path) -> None:
    # Ten to the eleventh words from one of a few hundred characters ("billion laughs").
    path = tmp_path / name
    path.write_text(
        f'<?xml version="1.0"?><!DOCTYPE x [{LAUGHS}]><x><y z="1">&l11;</y></x>', encoding="utf-8"
    )
    with pytest.raises(InputError):
        Streets.read(path)


def test_an_entity_that_names_a_file_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "private").write_text("geheim", encoding="utf-8")
    path = tmp_path / "town.graphml"
    path.write_text(
        f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY f SYSTEM "file://{tmp_path}/private">]>'
        '<graphml xmlns="http://graphml.graphdrawing.org/xmlns"><graph edgedefault="directed">'
        "<node id='1'>&f;</node></graph></graphml>",
        encoding="utf-8",
    )
    with pytest.raises(InputError) as refusal:
        Streets.read(path)
    assert "geheim" not in str(refusal.value)
