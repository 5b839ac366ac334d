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
# # Lesson 1: From map to way home
#
# You work in The Exchange and live in Fennick, about 24 km away on foot. One November evening the
# power fails and nothing runs. Which way do you go?
#
# A map file does not answer that. It holds points, and lines between points, and notes that
# people have pinned to them. In this lesson you turn those notes into streets, put two doors on
# them, and find a way home. Then you find out that the shortest way is not the fastest.
#
# The town is invented: at its coordinates is open sea. Do not walk by it. With a map of your own
# place, everything below works the same.
#
# *About 40 minutes. Run each cell with Shift and Enter.*

# %%
from lesson import check, show
from simulator import Plan, demo_folder

plan = Plan.read(demo_folder() / "plan.toml").with_changes(
    choices={"what_if": False, "quiet": 0.0}  # time alone counts; else quiet streets are preferred
)
plan.title, plan.trip.start, plan.trip.home, plan.trip.depart

# %% [markdown]
# Start and home are `(latitude, longitude)`: how far north, how far east. The minus sign means
# west.
#
# ## Notes become streets
#
# On OpenStreetMap a street is a *way*: a line with tags such as `highway=residential`. The tags
# are notes by many hands, so a program has to judge them. May one walk here? `judge` answers from
# a readable table of rules, and keeps its reason when the answer is no.

# %%
from simulator.ground.walkable import judge

for tags in (
    {"highway": "residential", "lit": "yes", "surface": "asphalt"},
    {"highway": "motorway"},
    {"highway": "cycleway"},
    {"highway": "cycleway", "foot": "no"},
    {"highway": "service", "service": "driveway"},
    {"highway": "service", "service": "driveway", "foot": "permissive"},
    {"highway": "footway", "access": "private"},
    {"highway": "steps", "bridge": "yes"},
):
    verdict = judge(tags)
    print("walk" if verdict.walkable else "no  ", tags, verdict.reason)

# %% [markdown]
# An explicit `foot=...` beats the kind of street: someone has stood there and looked.
#
# Now the whole file. Reading it gives three things: streets, places (taps, shops, shelters), and
# lines to draw (river, parks, rails).

# %%
from simulator.ground.osm import read_extract

extract = read_extract(plan.map.extract)
streets = extract.streets
print(f"{streets.counts['ways_kept']} ways kept, {streets.counts['ways_rejected']} refused")
print(f"{streets.length_m.size} pieces of street, {streets.length_m.sum() / 1000:.0f} km in all")
print(f"{len(extract.places)} places that may help")
print("whose data:", extract.attribution)

# %% [markdown]
# Nothing is thrown away in silence. These were refused, and why:

# %%
import pandas as pd

refused = pd.Series(streets.rejected.reason, name="ways")
refused.value_counts().head(8).to_frame()

# %% [markdown]
# ## A door becomes a point on a street
#
# Your door is not on the street; it is some metres beside it. *Snapping* finds the nearest point
# of a street that can be walked and that hangs together with the rest of the town. If the nearest
# one is far, that is worth knowing, so the distance is kept.

# %%
from simulator.home.scene import prepare

scene = prepare(plan)
for name, end in zip(("start", "home"), scene.ends, strict=True):
    street = scene.streets.ways.name[scene.streets.way[end.segment]] or "a way without a name"
    print(f"{name}: on {street}, {end.distance_m:.0f} m away")

# %% [markdown]
# ## The way home
#
# A route search needs a price for every piece of street. Here the price is *seconds*: the length,
# over a walking speed that depends on slope, surface, stairs and light. The search then finds the
# cheapest chain of pieces. It is an old idea: Dijkstra (1959), *Numerische Mathematik* 1:269-271.
#
# `walk_home` does that, and then walks the way step by step with clock, bag and body.

# %%
from simulator import walk_home
from simulator.report.figures.map import route_map

fastest = walk_home(plan)
show(route_map(fastest), "The fastest way home on the map, with the hours marked along it.")

# %%
route, time = fastest.summary["route"], fastest.summary["time"]
print(
    f"{route['distance_km']:.1f} km, {route['ascent_m']:.0f} m up, {route['steps_m']:.0f} m stairs"
)
print(f"bridges: {', '.join(route['bridges'])}")
print(f"leave {time['depart'][11:16]}, arrive {time['arrive'][11:16]}")

# %% [markdown]
# ## Shortest is not fastest
#
# Let us change the price. If every metre costs the same, hills and stairs are free, and the
# search gives the *shortest* way. The same search, other prices; then walk it like the first.

# %%
from simulator.home.walk import tabulate, walk_way
from simulator.home.way import Way
from simulator.walk.course import course_along

metres = scene.streets.length_m
start, home = ((end.segment, end.fraction) for end in scene.ends)
path = scene.network.least(metres, metres, start, home, closed=scene.closed)
way = Way(legs=(path,), course=course_along(scene.streets, path), cost_s=path.cost)
shortest = tabulate(scene, walk_way(scene, way))

pd.DataFrame(
    {
        name: {
            "km": walk.summary["route"]["distance_km"],
            "climb, m": walk.summary["route"]["ascent_m"],
            "stairs, m": walk.summary["route"]["steps_m"],
            "moving, h": walk.summary["time"]["moving_h"],
            "door to door, h": walk.summary["time"]["elapsed_h"],
        }
        for name, walk in (("fastest", fastest), ("shortest", shortest))
    }
).round(2)

# %%
from simulator.report.figures.map import ways_map

show(
    ways_map(fastest, {"shortest": shortest.path_lonlat}, name="fastest"),
    "Both ways on one map: they part at the ridge.",
)

# %%
from simulator.report.figures.profile import profile

show(
    profile(shortest), "Height along the shortest way: it goes straight over the ridge, by stairs."
)

# %%
show(profile(fastest), "Height along the fastest way: a longer road, and a tunnel under the top.")

# %% [markdown]
# The short way saves a few metres and loses time: it climbs the ridge by stairs, without a lamp in
# the street.
#
# **Mind.** A map is not the place. A gate may be locked, a path flooded, a bridge closed, and the
# map may be years old. Walk the way once by day before you need it. On the day, what you see and
# what the authorities say counts for more than any line on a screen.
#
# ## Exercises
#
# Put your answer in place of the three dots and run the cell.
#
# **1.1** How many metres shorter is the shortest way than the fastest? (To the nearest ten.)

# %%
answer_1_1 = ...
check(
    answer_1_1,
    fastest.course.length_m - shortest.course.length_m,
    within=10,
    hint="Take the two distances from the table and mind km and m.",
)

# %% [markdown]
# **1.2** How many minutes of *moving* does the shortest way cost you? (To the nearest minute.)

# %%
answer_1_2 = ...
check(
    answer_1_2,
    60 * (shortest.summary["time"]["moving_h"] - time["moving_h"]),
    within=1,
    hint="Subtract the two hours of moving, then times 60.",
)

# %% [markdown]
# **1.3** May one walk on a `highway=path` with `access=no` and `foot=yes`? Guess `True` or
# `False`, then ask `judge`.

# %%
answer_1_3 = ...
check(
    answer_1_3,
    judge({"highway": "path", "access": "no", "foot": "yes"}).walkable,
    hint="Which of the two notes is about people on foot?",
)

# %% [markdown]
# **1.4** Someone in a wheelchair cannot take stairs. Change the plan with
# `plan.with_changes(walker={"limits": ("no stairs",)})` and walk it again. Does the way change?
# Answer `"yes"` or `"no"`, and say to your neighbour why.

# %%
answer_1_4 = ...


def no_stairs_changes_the_way() -> str:
    """Walk it without stairs, and compare."""
    no_stairs = walk_home(plan.with_changes(walker={"limits": ("no stairs",)}))
    return "yes" if abs(no_stairs.course.length_m - fastest.course.length_m) > 1 else "no"


check(
    answer_1_4,
    no_stairs_changes_the_way,
    hint="How many metres of stairs has the fastest way?",
)

# %% [markdown]
# **For your own place.** `walkhome new mywalk` writes a plan to edit. Put in your two doors and a
# map of your town (© OpenStreetMap contributors, ODbL), and run this lesson with it: `plan =
# Plan.read("mywalk/plan.toml")`.
