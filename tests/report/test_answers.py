"""The pages of odds, year and many: titled, tagged and described as the timeline is."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Callable
from datetime import datetime, timedelta
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import pikepdf
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from pypdf import PdfReader

from simulator import Plan
from simulator.questions.many import many
from simulator.questions.odds import OddsAnswer, odds
from simulator.questions.people import read_people
from simulator.questions.year import YearAnswer, year
from simulator.report.figures.many import home_figure, passed_figure, passed_words
from simulator.report.figures.odds import (
    SHORTAGES,
    arrivals_figure,
    band_figure,
    ranking_figure,
    shortages_figure,
    shortages_words,
)
from simulator.report.figures.style import svg_text
from simulator.report.figures.year import (
    COLD_INKS,
    LABELS,
    VERDICTS,
    WORST,
    bags_chart,
    category_chart,
    category_words,
    cold_bands,
    cold_chart,
    cold_names,
)
from simulator.report.many import PartStore, many_document, many_pdf
from simulator.report.odds import odds_pdf
from simulator.report.paper.answers import AnswerPart, answer_pdf
from simulator.report.year import year_pdf
from simulator.units import Units
from tests.conftest import BAG, PLAN, town_xml, write_heights
from tests.report.conftest import HOSTILE, blank_shares

TYPICAL = Path(str(files("pvlib") / "data" / "723170TYA.CSV"))
"""A typical year of Greensboro in TMY3 form, carried by the package pvlib; public domain."""

TITLE = "Across <b>the</b> river & back"
ATTRIBUTION = "Invented place: no real map data"


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("town")
    (folder / "town.osm").write_text(town_xml(), encoding="utf-8")
    (folder / "bag.csv").write_text(BAG, encoding="utf-8")
    text = PLAN.replace("Across the river", TITLE)
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    write_heights(folder / "heights.tif")
    return Plan.read(folder / "plan.toml")


@pytest.fixture(scope="module")
def drawn(plan: Plan) -> OddsAnswer:
    return odds(plan, walks=60, seed=4, decide=2)


@pytest.fixture(scope="module")
def seasons(plan: Plan) -> YearAnswer:
    assert plan.bag.items is not None
    winter = plan.bag.items.with_name("winter.csv")
    lamp, coat = (
        "lamp,light,basic,1,60,50,8,,,,,10,,,",
        "coat,warmth,basic,1,900,4000,20,,,,,,0.9,,",
    )
    winter.write_text(BAG.replace(lamp, coat), encoding="utf-8")
    return year(plan, weather=TYPICAL, bags={"summer": plan.bag.items, HOSTILE[0]: winter})


@pytest.fixture(scope="module")
def crowd(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Any, Any]:
    folder = tmp_path_factory.mktemp("crowd")
    table = folder / "people.csv"
    ends = ",".join(str(degrees) for degrees in (*plan.trip.start, *plan.trip.home))
    table.write_text("start_lat,start_lon,home_lat,home_lon\n" + f"{ends}\n" * 3, encoding="utf-8")
    store = PartStore(folder, plan, table, size=10)
    basis = many(plan, read_people(table, plan).people, store)
    return many_document(plan, store, attribution=basis.attribution), store.rows(), store.passed()


Pages = Callable[..., bytes]


@pytest.fixture(scope="module", params=["odds", "year", "many"])
def pages(
    request: pytest.FixtureRequest,
    plan: Plan,
    drawn: OddsAnswer,
    seasons: YearAnswer,
    crowd: tuple[dict[str, Any], pd.DataFrame, pd.DataFrame],
) -> Pages:
    """Give what makes the pages of a command."""
    makers: dict[str, Pages] = {
        "odds": lambda **page: odds_pdf(drawn, **page),
        "year": lambda **page: year_pdf(seasons, **page),
        "many": lambda **page: many_pdf(plan, *crowd, **page),
    }
    return makers[str(request.param)]


@pytest.fixture(scope="module")
def pdf(pages: Pages) -> bytes:
    return pages()


def _elements(item: Any) -> list[Any]:  # noqa: ANN401 - any object of a PDF
    """List the structure elements below one (ISO 32000-1, 14.7.2)."""
    if isinstance(item, pikepdf.Array):
        return [element for child in item for element in _elements(child)]
    if not isinstance(item, pikepdf.Dictionary):
        return []
    below = _elements(item.get("/K"))
    return [item, *below] if "/S" in item else below


def test_title_language_tags_and_words_for_every_figure_are_set(pdf: bytes) -> None:
    with pikepdf.open(io.BytesIO(pdf)) as made:
        assert str(made.Root.Lang) == "en"
        assert bool(made.Root.MarkInfo.Marked)
        # PDF/UA-1 (ISO 14289-1), clauses 5 and 7.1: the standard is named, the title is shown.
        with made.open_metadata() as meta:
            assert meta["pdfuaid:part"] == "1"
            title = str(meta["dc:title"])
        assert title.endswith(f": {TITLE}")
        assert bool(made.Root.ViewerPreferences.DisplayDocTitle)
        assert str(made.docinfo["/Title"]) == title
        elements = _elements(made.Root.StructTreeRoot.K)
    kinds = [str(element.S) for element in elements]
    pictures = [element for element in elements if element.S == "/Figure"]
    assert len(pictures) >= 3
    for picture in pictures:
        assert len(str(picture.Alt)) > 20
    assert kinds.count("/H1") == 1
    read = PdfReader(io.BytesIO(pdf))
    text = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    for words in (TITLE, "A model, not a promise", ATTRIBUTION):
        assert words in text


def test_every_font_is_embedded_and_no_text_is_smaller_than_nine_points(pdf: bytes) -> None:
    with pikepdf.open(io.BytesIO(pdf)) as made:
        described = [
            item
            for item in made.objects
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor"
        ]
        assert len(described) >= 2
        # ISO 32000-1, table 122: an embedded font program is one of these streams.
        for item in described:
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(item.keys())
    sizes: set[float] = set()
    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(
            visitor_text=lambda text, cm, tm, _font, size: (
                sizes.add(round(float(np.hypot(*_together(cm, tm)) * size), 2))
                if text.strip()
                else None
            )
        )
    assert len(sizes) > 2
    assert min(sizes) >= 8.95


def test_no_page_is_mostly_blank(pdf: bytes) -> None:
    assert max(blank_shares(pdf)) < 0.5


def test_the_three_verdicts_are_far_apart_in_grey() -> None:
    # Common practice of printing: neighbouring greys on a copy are told apart from a fifth on.
    fills = [to_rgb(VERDICTS[name]) for name in ("walk", "walk with care", "stay and wait")]
    # The grey of a copy: ITU-R BT.709, item 3.2, luma of the primaries.
    light = np.array(fills) @ (0.2126, 0.7152, 0.0722)
    assert min(np.abs(np.diff(sorted(light)))) >= 0.3


def _together(cm: list[float], tm: list[float]) -> tuple[float, float]:
    """Where one unit upward of the text goes on the page (ISO 32000-1, 9.4.4)."""
    return (
        tm[2] * cm[0] + tm[3] * cm[2],
        tm[2] * cm[1] + tm[3] * cm[3],
    )


def test_the_same_answer_gives_the_same_bytes_and_nothing_active(pages: Pages, pdf: bytes) -> None:
    assert pages() == pdf
    for mark in (b"/CreationDate", b"/JavaScript", b"/JS", b"/URI", b"/OpenAction"):
        assert mark not in pdf
    letter = PdfReader(io.BytesIO(pages(page="Letter"))).pages[0].mediabox
    # ANSI/ASME Y14.1, size A: 8.5 by 11 inches.
    assert (float(letter.width), float(letter.height)) == (612.0, 792.0)
    with pytest.raises(ValueError, match=r"found 'B5'; allowed are A4, Letter"):
        pages(page="B5")


def test_nothing_is_drawn_over_the_edge_of_the_page(pdf: bytes, tmp_path: Path) -> None:
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed here")
    (tmp_path / "p.pdf").write_bytes(pdf)
    run = ["pdftoppm", "-r", "50", "-png", "p.pdf", "page"]
    subprocess.run(run, cwd=tmp_path, check=True, timeout=60)
    from matplotlib.image import imread

    pictures = [imread(path)[..., :3] for path in sorted(tmp_path.glob("page*.png"))]
    assert pictures
    for picture in pictures:
        assert picture.min() < 0.3
        margin = int(14.0 / 25.4 * 50.0)  # 15 mm each side, less one for a stroke
        assert picture[:, :margin].min() == picture[:, -margin:].min() == 1.0


@pytest.fixture
def axes() -> Axes:
    return Figure().add_subplot()


def _figures(
    drawn: OddsAnswer, seasons: YearAnswer, crowd: tuple[dict[str, Any], Any, Any]
) -> dict[str, Callable[..., Axes]]:
    hours, (_document, rows, passed) = seasons.bags[0].hours, crowd
    band = {"along": "hour", "amount": "water_left_l", "xlabel": "x", "title": "t"}
    return {
        "arrivals": lambda *at: arrivals_figure(drawn, *at),
        "shortages": lambda *at: shortages_figure(drawn.document, *at),
        "band": lambda *at: band_figure(drawn.ledger, *at, **band),  # type: ignore[arg-type]  # words
        "ranking": lambda *at: ranking_figure(drawn.rankings[0], *at),
        "category": lambda *at: category_chart(hours, "verdict", VERDICTS, *at, title="t"),
        "cold": lambda *at: cold_chart(hours, *at, units=Units("metric")),
        "bags": lambda *at: bags_chart([("a", hours)], 16, *at),
        "home": lambda *at: home_figure(rows, *at),
        "passed": lambda *at: passed_figure(passed, "crossing", *at, title="t"),
    }


@pytest.mark.parametrize(
    "name",
    [
        *("arrivals", "shortages", "band", "ranking", "category"),
        *("cold", "bags", "home", "passed"),
    ],
)
def test_every_figure_gives_its_axes_alone_or_on_axes_of_ones_own(
    name: str,
    axes: Axes,
    drawn: OddsAnswer,
    seasons: YearAnswer,
    crowd: tuple[dict[str, Any], Any, Any],
) -> None:
    draw = _figures(drawn, seasons, crowd)[name]
    before = dict(mpl.rcParams)
    assert draw(axes) is axes
    alone = draw()
    assert alone.get_figure() is not axes.get_figure()
    assert svg_text(alone, prefix="x") == svg_text(draw(), prefix="x")
    assert dict(mpl.rcParams) == before


def _rings(outline: Any) -> list[Any]:  # noqa: ANN401 - a path of matplotlib
    """Cut a path into its closed rings: inside an odd number of them is inside."""
    starts = np.flatnonzero(outline.codes == mpl.path.Path.MOVETO)
    return [
        mpl.path.Path(outline.vertices[begin:end])
        for begin, end in zip(starts, [*starts[1:], None], strict=True)
    ]


def test_the_year_chart_fills_exactly_the_cells_of_each_verdict(seasons: YearAnswer) -> None:
    hours = seasons.bags[0].hours
    drawn = category_chart(hours, "verdict", VERDICTS, title="t")
    # The figure's own drawing is asked cell by cell, in the middle of each.
    first = pd.Timestamp(hours["depart"].iloc[0]).date()
    for row in range(0, len(hours), 37):
        when = pd.Timestamp(hours["depart"].iloc[row])
        middle = ((when.date() - first).days + 0.5, when.hour + 0.5)
        here = [
            mpl.colors.to_hex(patch.get_facecolor())
            for patch in drawn.patches
            if sum(ring.contains_point(middle) for ring in _rings(patch.get_path())) % 2
        ]
        assert here == [VERDICTS[hours["verdict"].iloc[row]].lower()], when
    counts = hours["verdict"].value_counts()
    told = category_words(hours, "verdict", VERDICTS, title="Verdict")
    for word, count in counts.items():
        assert f"{word} {count:,}" in told


def test_what_is_worst_is_told_by_hatching_too_in_the_chart_and_in_its_key() -> None:
    moments = pd.date_range("2026-01-01", periods=24 * len(WORST), freq="h")
    depart = moments.strftime("%Y-%m-%dT%H:%M:%S")
    hours = pd.DataFrame({"depart": depart, "worst": np.repeat(list(WORST), 24)})
    drawn = category_chart(hours, "worst", WORST, title="t")
    found = {}
    for day, word in enumerate(WORST):
        middle = (day + 0.5, 12.5)
        over = [
            patch
            for patch in drawn.patches
            if sum(ring.contains_point(middle) for ring in _rings(patch.get_path())) % 2
        ]
        hatched = [patch.get_hatch() for patch in over if patch.get_hatch()]
        found[word] = (mpl.colors.to_hex(over[0].get_facecolor()), *hatched)
    colours = {word: mpl.colors.to_hex(WORST[word]) for word in WORST}
    assert found["none"] == (colours["none"],)
    assert found["time"] == (colours["time"],)  # solid ink, as nothing else
    hatches = [marks[1] for word, marks in found.items() if word not in {"none", "time"}]
    assert len(set(hatches)) == len(hatches) == len(WORST) - 2
    key = drawn.get_legend()
    assert key is not None
    assert [text.get_text() for text in key.get_texts()] == [LABELS.get(one, one) for one in WORST]
    in_key = [patch.get_hatch() for patch in key.findobj(Patch) if patch.get_hatch()]
    assert in_key == hatches


def test_an_area_with_a_hole_leaves_the_hole_free() -> None:
    depart = pd.date_range("2026-01-01", periods=24 * 5, freq="h").strftime("%Y-%m-%dT%H:%M:%S")
    verdict = np.full(24 * 5, "walk with care", dtype=object)
    verdict[24 * 2 + 12] = "walk"  # noon of the third day
    hours = pd.DataFrame({"depart": depart, "verdict": verdict})
    drawn = category_chart(hours, "verdict", VERDICTS, title="t")
    care = next(p for p in drawn.patches if p.get_facecolor() != (1.0, 1.0, 1.0, 1.0))
    rings = [ring.vertices for ring in _rings(care.get_path())]
    assert len(rings) == 2
    areas = [0.5 * float(np.sum(r[:-1, 0] * r[1:, 1] - r[1:, 0] * r[:-1, 1])) for r in rings]
    # Shoelace formula: 5 days of 24 hours, less one, turned the other way (SVG fill rule nonzero).
    assert sorted(areas) == [-1.0, 120.0]


def test_cold_is_sorted_into_bands_that_hold_their_lower_edge() -> None:
    felt = np.array([-40.0, -28.0, -27.9, -10.0, 0.0, 9.9, 20.0, 35.0, np.nan])
    np.testing.assert_array_equal(cold_bands(felt), [0, 1, 1, 2, 3, 3, 5, 5, np.nan])
    names = cold_names(Units("metric"))
    assert len(names) == len(COLD_INKS)
    assert names[0] == "below \N{MINUS SIGN}28 °C"
    assert names[-1] == "from 20 °C"
    # -28 degC is -18.4 degF, by definition of the scales.
    assert cold_names(Units("us"))[0] == "below \N{MINUS SIGN}18 °F"


def test_shortages_are_told_with_their_chances(drawn: OddsAnswer) -> None:
    share = float((drawn.walks["water_short_l"] > 0.001).mean())
    told = shortages_words(drawn.document)
    assert told.count(" %") == len(SHORTAGES)
    assert re.search(r"water: the bottle runs dry, [\w ]*\d+ %", told)
    if share == 0.0:
        assert "the bottle runs dry, 0 %" in told


def test_the_busiest_bridge_and_its_fullest_hour_are_told() -> None:
    passed = pd.DataFrame(
        [
            ("crossing", "Low Bridge", "2026-05-04T16:00:00-03:00", 2),
            ("crossing", HOSTILE[0], "2026-05-04T17:00:00-03:00", 7),
            ("crossing", HOSTILE[0], "2026-05-04T19:00:00-03:00", 3),
        ],
        columns=["kind", "name", "hour", "people"],
    ).assign(ways="", lat=46.0, lon=-30.0)
    told = passed_words(passed, "crossing", title="Bridges")
    assert "10 in all, most from 17:00 on, 7" in told
    assert told.index("10 in all") < told.index("Low Bridge")
    assert passed_words(passed, "refill", title="Refills") == "Refills: none."
    labels = [
        label.get_text() for label in passed_figure(passed, "crossing", title="t").get_xticklabels()
    ]
    assert labels == ["16:00", "17:00", "18:00", "19:00"]


def test_the_numbers_of_a_long_day_of_many_people_keep_apart() -> None:
    # Eighteen hours of a hundred thousand people: what stands in one row must not run together.
    first = datetime.fromisoformat("2026-11-18T12:00:00")
    hours = [(first + timedelta(hours=hour)).isoformat() for hour in range(18)]
    columns: dict[str, Any] = {"kind": "refill", "ways": "", "lat": 45.9, "lon": -30.1}
    passed = pd.DataFrame({"name": "Spring", "hour": hours, "people": 13_954.0, **columns})
    ax = passed_figure(passed, "refill", title="Bottles filled, by hour")
    ax.figure.canvas.draw()
    numbers = [text for text in ax.texts if text.get_text() == "13954"]
    assert len(numbers) == len(hours)
    for texts in (numbers, ax.get_xticklabels()):
        boxes = sorted((text.get_window_extent() for text in texts), key=lambda box: box.x0)
        assert all(left.x1 < right.x0 for left, right in pairwise(boxes))


def test_hostile_words_are_only_text() -> None:
    made = answer_pdf(
        "What",
        HOSTILE[4],
        [AnswerPart(heading=HOSTILE[0], told=HOSTILE[5], lines=HOSTILE)],
        standing="s",
        attribution=HOSTILE[2],
    )
    text = " ".join(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(made)).pages).split())
    assert HOSTILE[0] in text
    assert "#set *strong* `raw`" in text
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00\x07\x1b]", text)


def test_a_place_without_a_name_is_told_by_where_it_is_and_not_by_its_number() -> None:
    hour = "2026-11-18T16:00:00-02:00"
    row = ("refill", "drinking water n107412", "n107412", 45.99901, -30.1005, hour, 3)
    columns = ["kind", "name", "ways", "lat", "lon", "hour", "people"]
    passed = pd.DataFrame([row, ("refill", "Mill n1", "n2", 46.0, -30.1, hour, 1)], columns=columns)
    told = passed_words(passed, "refill", title="Bottles filled")
    assert "drinking water 45.9990, -30.1005 3 in all" in told
    assert "n107412" not in told
    assert "Mill n1" in told
    ticks = passed_figure(passed, "refill", title="t").get_yticklabels()
    assert ticks[0].get_text() == "drinking water\n45.9990, -30.1005"
