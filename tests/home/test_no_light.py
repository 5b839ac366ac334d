"""Night halts where first light is far off: said, never waited for in silence."""

from __future__ import annotations

from datetime import datetime

import pytest

from simulator import Plan, walk_home
from simulator.home.cautions import WAITING_FAILS
from tests.conftest import BAG, PLAN, TownWriter


@pytest.mark.parametrize(
    ("lat", "depart", "fails"),
    [
        # Spherical astronomy at declination -23.44 deg, with twilight above -6 deg (USNO, from
        # memory): at 78 N none; at 68 N 5.3 h around noon, so 18.7 h of dark; at 46 N 9.6 h and
        # so 14.4 h of dark.
        (78, "2026-12-21T16:30:00", True),
        (78, "2026-12-21T11:30:00", True),
        (68, "2026-12-21T15:30:00", True),
        (68, "2026-12-21T01:30:00", False),
        (46, "2026-12-21T17:30:00", False),
    ],
)
def test_waiting_for_light_is_said_to_fail_only_where_none_comes_soon(
    write_town: TownWriter, lat: int, depart: str, *, fails: bool
) -> None:
    plan = PLAN.replace("46.0", f"{lat}.0").replace("2026-05-04T09:30:00", depart)
    plan = plan.replace('elevation = ["heights.tif"]\n', "").replace(
        "[trip]", '[trip]\ntimezone = "Etc/GMT+4"'
    )
    plan = plan.replace("[walker]", "[walker]\npace_factor = 0.35")
    path = write_town(plan, bag=BAG.replace(",,,,,10,,,", ",,,,,0.01,,,"))
    town = path.parent / "town.osm"
    unlit = town.read_text("utf-8").replace('k="lit" v="yes"', 'k="lit" v="no"')
    town.write_text(unlit.replace('lat="46.', f'lat="{lat}.'), "utf-8")
    walk = walk_home(Plan.read(path).with_changes(choices={"what_if": False}))
    summary = walk.summary
    assert summary["halts"]
    told = walk.hours["stops"].str
    assert told.contains("halt until").any()
    assert told.contains("until first light").any() == (lat != 78)
    assert (summary["cautions"][0] == WAITING_FAILS) == fails
    assert (WAITING_FAILS in summary["cautions"]) == fails
    # Who would sit in the open is told to wait indoors at the start until that first light.
    if not fails and not summary["halts"][0]["sheltered"]:
        (indoors,) = (text for text in summary["cautions"] if "Wait indoors" in text)
        assert f"{datetime.fromisoformat(summary['halts'][0]['until']):%H:%M}" in indoors
    # Waiting does work where it is not said to fail: the halt's end is first light, and near.
    first = datetime.fromisoformat(summary["halts"][0]["until"])
    waited_h = (first - datetime.fromisoformat(f"{depart}-04:00")).total_seconds() / 3600.0
    assert waited_h < 16.5 or fails


def test_a_walk_without_halts_is_not_warned(write_town: TownWriter) -> None:
    summary = walk_home(Plan.read(write_town()).with_changes(choices={"what_if": False})).summary
    assert not summary["halts"]
    assert WAITING_FAILS not in summary["cautions"]
