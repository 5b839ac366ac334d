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
# # Lesson 4: Closed bridges
#
# Between work and home runs a river. A city forgets its river until a bridge is closed, and then
# everyone stands at the same one. In this lesson you close bridges before the river does: one,
# then two, then as few as it takes to cut you off. At the end the class raises the water
# together.
#
# *About 50 minutes, the class exercise included. Lesson 1 is enough to follow.*

# %%
import pandas as pd

from lesson import check, show
from simulator import NoWayHomeError, Plan, demo_folder, walk_home
from simulator.questions.detours import find_detours

plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
detours = find_detours(plan)
walk = detours.walk
print(f"the open way: {walk.course.length_m / 1000:.1f} km over {walk.summary['route']['bridges']}")

# %% [markdown]
# ## What is one bridge?
#
# A map draws a bridge in pieces: two carriageways, a footway beside them, a name here and none
# there. What an inspector closes is all of it at once. So pieces that touch, or lie side by side
# along one line, are put together first. These are the crossings that matter here:

# %%
table = detours.crossings
table[["crossing", "kind", "spans", "on_way"]]

# %% [markdown]
# Two of them are fords. They are the first to go when the water rises: never wade into moving
# water.
#
# ## One bridge closed
#
# Each crossing of the way was closed in turn, and the way around it walked in full: time, water,
# light. There are two prices. If you *know* at the office, you set out the other way at once. If
# you find out *at the barrier*, you have to walk back.

# %%
table.loc[
    table["on_way"] == "yes",
    ["crossing", "extra_min", "extra_km", "met_extra_min", "turn_into", "instead", "arrive"],
].round(1)

# %%
from simulator.report.figures.detours import blockage_profile, crossings_map

show(
    crossings_map(detours),
    "The way, its crossings, and the way around; crossings off the way are diamonds.",
)

# %% [markdown]
# A search does not have to be run again for every closed street. If you know the least time *from
# work to everywhere* and *from everywhere to home*, you can read off the best way around almost
# any single closure. That makes it cheap to ask the question for every metre of the way:

# %%
show(
    blockage_profile(detours),
    "What a blockage costs along the way: bold if known on setting out, thin if met on arrival.",
)

# %% [markdown]
# Where the thin line is high you have no way out on either side for a long stretch. Those are the
# places to ask about before you set out: a radio, a neighbour, the road authority.
#
# ## Two bridges closed
#
# The way around one closed bridge uses another. What if that one is closed as well? Pairs that
# cost more together than each by itself:

# %%
detours.pairs[["first", "second", "extra_min", "reachable"]].round(1)

# %% [markdown]
# ## The smallest cut
#
# How many crossings must be lost before there is *no* way home? The answer comes from a theorem.
# Send walkers home so that no two use the same crossing; the most that can go is just the fewest
# crossings whose loss stops everyone (Menger 1927, *Fundamenta Mathematicae* 10:96-115). A
# maximum flow finds both.

# %%
cut = detours.cut
print(f"{len(cut)} crossings: {', '.join(cut)}")
print("no smaller set does it" if detours.cut_is_smallest else "a smaller set was not ruled out")

# %% [markdown]
# Home is cut off only when every crossing is gone. That is good to know, and no comfort if they
# all go in the same flood. The count says how *many* must fail, not how likely they are to fail
# *together*.
#
# ## Other ways worth knowing
#
# The last table is for the fridge door: ways that share little with the first and take not much
# longer. Walk one of them some Sunday.

# %%
detours.alternatives[["extra_min", "extra_km", "shared_pct", "bridges"]].round(1)

# %%
from simulator.report.figures.map import ways_map

show(
    ways_map(
        walk,
        {f"other way {n}": other.path_lonlat for n, other in enumerate(detours.other_walks, 1)},
        name="fastest",
    ),
    "Other ways home that are worth knowing.",
)

# %% [markdown]
# **Mind.** A map is not the state of a bridge. Believe signs, tapes and the authorities. A bridge
# that stands in water may be standing on nothing.
#
# ## Exercises
#
# **4.1** Old Ossen Bridge is closed. How many minutes do you save by knowing it at the office,
# over finding out at the barrier? (To the nearest minute. Columns `extra_min` and
# `met_extra_min`; the second is walking time only, so the answer is a rough one.)

# %%
first = table.iloc[0]
answer_4_1 = ...
check(
    answer_4_1,
    float(first["met_extra_min"] - first["extra_min"]),
    within=1,
    hint="Subtract the smaller from the larger.",
)

# %% [markdown]
# **4.2** Which crossing does the way use when Old Ossen Bridge *and* Heron Footbridge are closed?
# Its name, please.

# %%
answer_4_2 = ...
both = walk_home(plan.with_changes(event={"closed": ["Old Ossen Bridge", "Heron Footbridge"]}))
check(
    answer_4_2,
    both.summary["route"]["bridges"][0],
    hint='Look into both.summary["route"].',
)

# %% [markdown]
# **4.3** The town closes six of the ten crossings for repair. What is the smallest number that
# can still cut you off, as long as each of the others joins the same two banks?

# %%
answer_4_3 = ...
check(answer_4_3, len(cut) - 6, hint="How many are left?")

# %% [markdown]
# ## Class exercise: the water rises
#
# Each group takes one level from 18 to 36 metres and asks what is left of the way home. The tool
# closes all ground below that height, and bridges whose deck lies below it. (A real flood is not
# flat: its surface falls along the river, and currents and cellars do not ask for heights. Levels
# for your own river come from the water authority.)

# %%
on_the_board: dict[float, str] = {}


def at_level(level_m: float) -> str:
    """Walk home with the water at one level, and say how it goes."""
    if level_m not in on_the_board:
        on_the_board[level_m] = tried_at(level_m)
    return on_the_board[level_m]


def tried_at(level_m: float) -> str:
    """Try one level."""
    flood = {"kind": "flood", "flood_level_m": level_m}
    try:
        dry = walk_home(plan.with_changes(event=flood))
    except NoWayHomeError:
        return "no way home"
    bridges = ", ".join(dry.summary["route"]["bridges"])
    return (
        f"{dry.course.length_m / 1000:.1f} km, {dry.summary['time']['elapsed_h']:.1f} h: {bridges}"
    )


pd.Series({level_m: at_level(level_m) for level_m in (18, 21, 24, 35)}, name="the way home")

# %% [markdown]
# Put the groups' answers on the board, in order of level. Then find out together:
#
# **4.4** At which level, to half a metre, does the way over Old Ossen Bridge end? (The lowest
# level in steps of 0.5 m at which another bridge has to be used.)

# %%
answer_4_4 = ...


def lost_at_m() -> float:
    """Try levels in steps of half a metre."""
    levels_m = (20.0, 20.5, 21.0, 21.5, 22.0)
    return next(level for level in levels_m if "Old Ossen Bridge" not in at_level(level))


check(answer_4_4, lost_at_m, within=0.01, hint="Halve the interval: between 21 and 24 first.")

# %% [markdown]
# To talk about: at that level, how long before the water gets there would you have to leave the
# office? Who has to know? And at which level is the right answer to stay?
