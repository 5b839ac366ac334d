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
#

# %% [markdown]
# # Lesson 2: Slope and pace
#
# How fast do you walk? The honest answer is: it depends on where to. In this lesson you see what
# a slope does to pace, why up and down do not cancel out, why an average lies, and how a map's
# heights can fool you at a bridge.
#
# *About 45 minutes. Lesson 1 is enough to follow.*

# %%
import numpy as np

from lesson import check, show, slide
from simulator import Plan, demo_folder, walk_home
from simulator.body import pace

plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
walk = walk_home(plan)
course = walk.course

# %% [markdown]
# ## A function of the slope
#
# *Slope* is rise over run: 5 m up in 100 m is 0.05. Uphill is positive, downhill negative, always
# in the direction you walk. Tobler (1993, NCGIA Technical Report 93-1) drew one curve through the
# marching rates of soldiers. Later fits come from other people, among them cadets with a map
# (Irmischer and Clarke 2018) and walkers who carried trackers (Campbell and others 2019, 2022).

# %%
from curves import lines_figure, quantity

slope = np.linspace(-0.3, 0.3, 241)
fits = {name.replace("_", " "): 3.6 * fit(slope) for name, fit in pace.PACE_MODELS.items()}
show(
    lines_figure(slope, fits, across=quantity("slope"), up="km/h", from_zero=True, mark_zero=True),
    "Five published walking speeds: fastest on a gentle descent, slower both ways from there.",
)

# %%
for name, fit in pace.PACE_MODELS.items():
    speed_m_s = fit(course.slope)
    print(f"{name:24} {np.sum(course.run_m / speed_m_s) / 3600:.1f} h of moving on our way home")

# %% [markdown]
# Move the slope, and feel how much one per cent is worth.

# %%
steepest_pct = 25.0


def at_slope(slope_pct: float) -> str:
    """Tell each speed at one slope."""
    fits = {name: 3.6 * float(fit(slope_pct / 100.0)) for name, fit in pace.PACE_MODELS.items()}
    return ", ".join(f"{name.split('_')[0]} {speed:.1f} km/h" for name, speed in fits.items())


slide(at_slope, low=-steepest_pct, high=steepest_pct, step=1.0, start=5.0, name="slope, %")

# %%
hours = [
    float(np.sum(course.run_m / fit(course.slope)) / 3600.0) for fit in pace.PACE_MODELS.values()
]
print(f"between the slowest and the fastest answer lie {max(hours) - min(hours):.1f} h")

# %% [markdown]
# Same way, same day, other answers. None of
# them is wrong: they were made from different people. So the tool shows a band, and the best
# thing you can do is time yourself (exercise 2.4). These hours are for daylight and no bag.
#
# ## Why the average slope lies
#
# Take a hill: 1 km up at 10 %, 1 km down at 10 %. On average it is flat. Is it as quick as the
# flat?

# %%
up, down, level = pace.tobler_speed_m_s(np.array([0.10, -0.10, 0.0]))
print(f"over the hill: {(1000 / up + 1000 / down) / 60:.1f} minutes")
print(f"on the flat:   {2000 / level / 60:.1f} minutes")

# %% [markdown]
# You lose more going up than you win going down: you spend *longer* on the slow part. Whoever
# puts one average slope into the formula gets a time that is too short, and a walker who is late
# in the dark. So the way is cut into pieces no longer than the cells of the height raster, and
# each gets its own slope. Ours has this many:

# %%
pieces_h = np.sum(course.run_m / pace.tobler_speed_m_s(course.slope)) / 3600
average = course.rise_m.sum() / course.length_m
average_h = course.length_m / pace.tobler_speed_m_s(average) / 3600
print(f"{course.run_m.size} pieces: {pieces_h:.2f} h; one average slope: {average_h:.2f} h")

# %% [markdown]
# ## Up is not down
#
# Turn the walk round: leave from Fennick for The Exchange, the same evening.

# %%
there = plan.trip
back = walk_home(plan.with_changes(trip={"start": there.home, "home": there.start}))
for name, one in (("home", walk), ("back", back)):
    route, time = one.summary["route"], one.summary["time"]
    print(
        f"{name}: {route['ascent_m']:.1f} m up, {route['descent_m']:.1f} m down, "
        f"{60 * time['moving_h']:.1f} min moving"
    )

# %% [markdown]
# Both ends lie nearly at the same height here, so the two come out close. They are still not
# equal. On a way that ends higher than it begins, the difference is the first thing you notice.
#
# ## Stairs
#
# Stairs are no steep path: nobody strides on them. They have a speed of their own, measured along
# the map (Fruin 1971, from memory).

# %%
stairs_up, stairs_down = pace.stairs_speed_m_s([True, False])
print(f"up {3.6 * stairs_up:.1f} km/h, down {3.6 * stairs_down:.1f} km/h, level {3.6 * level:.1f}")

# %% [markdown]
# People differ here more than anywhere. With a push-chair, on crutches, or in a wheelchair,
# stairs are not slow but shut; the plan has `limits` for that, and they bind the choice of way.
#
# ## Heights can fool you
#
# Heights come from a survey, one number for every 20 m square. Two things go wrong.
#
# **Noise.** Each number is a little off, and a way that crosses hundreds of squares collects
# every wobble as climbing. So the heights are smoothed over a stated width. Too little, and you
# climb hills that are not there; too much, and real hills melt.

# %%
ascents = {
    width: walk_home(plan.with_changes(map={"smoothing_m": width})).summary["route"]["ascent_m"]
    for width in (0, 30, 120)
}
for width, ascent_m in ascents.items():
    print(f"smoothed over {width:3} m: {ascent_m:.0f} m of climbing")

# %% [markdown]
# **Bridges and tunnels.** The survey sees the river, not the deck; the top of the hill, not the
# road inside it. Here is Old Ossen Bridge as the raster has it, and as one walks it.

# %%
from simulator.ground.raster import read_raster

raster = read_raster(plan.map.elevation[0])
below_m = raster.heights(course.lon, course.lat)
bridge = np.flatnonzero(course.bridge)
near = slice(bridge[0] - 20, bridge[-1] + 20)
show(
    lines_figure(
        course.distance_m[near],
        {"as walked": course.height_m[near], "as surveyed": below_m[near]},
        across="distance from the start (m)",
        up="height (m)",
    ),
    "At the bridge the survey falls to the river; the walker stays on the deck.",
)

# %%
naive_m = np.maximum(np.diff(below_m), 0.0).sum()
walked_m = np.maximum(course.rise_m, 0.0).sum()
print(f"straight from the survey: {naive_m:.0f} m of climbing; as walked: {walked_m:.0f} m")

# %% [markdown]
# Most of that gap is the tunnel: without care the walk would go over the top of the ridge,
# through solid rock, and no one would know why it takes so long.
#
# **Mind.** Published speeds are for healthy grown people in daylight. With children, after an
# illness, in heat, on ice, count on much less. A slow walk that arrives is a good walk.
#
# ## Exercises
#
# **2.1** How fast, in km/h, does Tobler walk up a slope of 0.20? (One decimal; there is a
# function.)

# %%
answer_2_1 = ...
check(
    answer_2_1,
    3.6 * float(pace.tobler_speed_m_s(0.20)),
    within=0.06,
    hint="pace.tobler_speed_m_s gives metres per second; times 3.6.",
)

# %% [markdown]
# **2.2** At which slope is Tobler fastest? Read it from the figure, or let numpy find it.

# %%
answer_2_2 = ...
check(
    answer_2_2,
    float(slope[np.argmax(pace.tobler_speed_m_s(slope))]),
    within=0.006,
    hint="It is not zero. Mind the sign.",
)

# %% [markdown]
# **2.3** Make the hill twice as steep: 500 m up and 500 m down at 20 %, then 1 km flat. How many
# minutes over it, by Tobler? (To half a minute.) Compare with the hill of 10 % above: same climb,
# same length.

# %%
steep_up, steep_down = pace.tobler_speed_m_s(np.array([0.20, -0.20]))
answer_2_3 = ...
check(
    answer_2_3,
    float((500 / steep_up + 500 / steep_down + 1000 / level) / 60),
    within=0.5,
    hint="Time is length over speed, piece by piece; then add.",
)

# %% [markdown]
# **2.4** You walk 5 km on the flat in 66 minutes. Which `pace_factor` is yours? (Two decimals.)
# Then run the walk with it: `walk_home(plan.with_changes(walker={"pace_factor": ...}))`.

# %%
answer_2_4 = ...
check(
    answer_2_4,
    pace.pace_factor_from_timed_walk(5000, 66 * 60),
    within=0.006,
    hint="pace.pace_factor_from_timed_walk takes metres and seconds.",
)
