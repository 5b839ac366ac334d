# ---
# jupyter:
#   jupytext:
#     formats: ipynb,py:percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # Lesson 7: Your own town
#
# Six lessons in a town that is not there. Now take the one you live in. You need one file, an
# extract of the open map of your place (`.osm.pbf` or `.osm`, from any server of extracts; ©
# OpenStreetMap contributors, ODbL). Put its name below. Until you have one, the lesson runs on
# the invented town, and so do its answers.
#
# *About 50 minutes, and a walk afterwards. Lesson 1 comes before it.*

# %%
from pathlib import Path
from tempfile import mkdtemp

import numpy as np

from lesson import check, show, slide
from simulator import Plan, demo_folder, walk_home

extract = demo_folder() / "town.osm.pbf"  # your own: Path("mytown.osm.pbf")
start = (45.99802, -30.12161)  # latitude, longitude: school, office, ...
home = (46.05263, -29.85348)

# %% [markdown]
# ## What does the map know?
#
# Before you believe a map, ask it what it does not know. A street without a tag for light is not
# dark, and one without a tag for its surface is not smooth: nobody has written it down yet.

# %%
from simulator.ground.osm import read_extract
from simulator.ground.walkable import SURFACES

town = read_extract(extract)
streets = town.streets
km = streets.length_m / 1000.0
total_km = float(km.sum())


def known(written: np.ndarray) -> float:
    """Say on which share of the streets' length something is written down."""
    return 100.0 * float(km[written[streets.way]].sum()) / total_km


light = known(streets.ways.lit >= 0)
surface = known(streets.ways.surface != SURFACES.index("unknown"))


print(f"{streets.length_m.size:,} pieces of street, {total_km:,.0f} km")
print(f"light is written down for {light:.0f} % of the length")
print(f"surface is written down for {surface:.0f} % of the length")
print(f"places that may help: {len(town.places)}")

# %% [markdown]
# ## A plan in a few lines
#
# A plan is a small text file. This one names a bag (the demo's; put in your own list) and leaves
# heights out, so that the answer will say, loudly, that the ground counts as flat.

# %%
PLAN = f"""
title = "Our way home"
[trip]
start = {list(start)}
home = {list(home)}
depart = 2026-11-18T16:30:00
[map]
extract = "{extract.as_posix()}"
[walker]
mass_kg = 60
height_m = 1.68
age_y = 15
sex = "female"
[bag]
items = "{(demo_folder() / "bag.csv").as_posix()}"
capacity_l = 5
[weather]
air_c = 6
humidity_pct = 80
wind_m_s = 4
cloud_pct = 80
rain_mm_h = 0
[choices]
what_if = false
"""
folder = Path(mkdtemp(prefix="lesson-"))
(folder / "plan.toml").write_text(PLAN, encoding="utf-8")
plan = Plan.read(folder / "plan.toml")
plan

# %%
walk = walk_home(plan)
walk

# %%
from simulator.report.figures.map import route_map

show(route_map(walk), "The way home on the map of the town, with the hours marked along it.")

# %%
walk.hours[["clock_start", "place", "distance_km", "daylight", "water_lost_ml", "felt_c"]]

# %% [markdown]
# The times are real ones, with their zone: `walk.hours["clock_start"].dt.hour` is the hour on the
# church clock. The verdict comes with its reasons. Read them aloud; which would you check first?

# %%
print(walk.summary["verdict"]["level"])
for reason in walk.summary["verdict"]["reasons"]:
    print("-", reason)

# %% [markdown]
# ## When should we leave?
#
# Move the departure and look at the dark. (With `ipywidgets` installed this is a slider; without,
# three departures are told.)

# %%
first_hour, last_hour = 6, 20


def dark_hours(hour: float) -> str:
    """Tell how much of the way is dark."""
    depart = plan.trip.depart.replace(hour=int(hour), minute=0)
    told = walk_home(plan.with_changes(trip={"depart": depart})).summary["time"]
    return f"leave {int(hour):02d}:00, arrive {told['arrive'][11:16]}, {told['dark_h']:.1f} h dark"


slide(dark_hours, low=first_hour, high=last_hour, step=1, start=12, name="hour")

# %% [markdown]
# ## What must be looked at with your own eyes?
#
# Every physical bridge of the way, once, and every tap the plan would use. Print the list and
# share it out: each group walks one stretch by day, in company, and writes down what is true.
# What you find out, tell the map: it is yours to correct.

# %%
from simulator.route.crossings import group_crossings

crossings = group_crossings(walk.streets)
used = [int(one) for one in dict.fromkeys(crossings.of_segment[walk.course.segment]) if one >= 0]
for number in used:
    print(f"crossing: {crossings.name[number]}  (ways {crossings.way_ids[number]})")
water = walk.refills[walk.refills["kind"].isin(["drinking water", "fountain", "tap"])]
for tap in water.itertuples():
    print(f"water: {tap.name or tap.kind}, {tap.along_km:.1f} km along")

# %% [markdown]
# ## Now make it better
#
# - `walkhome fetch plan.toml` brings heights for your place, once; then `ascent_m` is not 0.
# - Weigh a bag, list it in a spreadsheet, save it as CSV, and name it under `[bag]`.
# - Time one stretch of 5 km and write it as `timed_walk`.
#
# **Mind.** Nobody walks the whole way home for this lesson. Stretches by day, in company, with
# somebody who knows where you are; roads without a pavement are looked at, not walked. A plan that
# has not been walked is a guess, and on the day the authorities' word comes first.
#
# ## Exercises
#
# **7.1** For what share of the streets' length is light written down? (Per cent, to the nearest.)

# %%
answer_7_1 = ...
check(answer_7_1, light, within=1.0, hint="It is printed above.")

# %% [markdown]
# **7.2** How many metres does the plan climb without heights?

# %%
answer_7_2 = ...
check(answer_7_2, walk.summary["route"]["ascent_m"], hint="What does the ground count as?")

# %% [markdown]
# **7.3** How many physical crossings does the way use?

# %%
answer_7_3 = ...
check(answer_7_3, len(used), hint="Count the lines of the list above.")

# %% [markdown]
# **7.4** Does leaving at noon instead of half past four leave less of the way in the dark? `True`
# or `False`.

# %%
answer_7_4 = ...


def noon_is_lighter() -> bool:
    """Compare the two departures."""
    noon = plan.with_changes(trip={"depart": plan.trip.depart.replace(hour=12, minute=0)})
    dark_h = walk.summary["time"]["dark_h"]
    return bool(walk_home(noon).summary["time"]["dark_h"] < dark_h)


check(answer_7_4, noon_is_lighter, hint="Move the slider, or look at the three departures.")
