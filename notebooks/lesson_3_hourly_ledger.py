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
# # Lesson 3: The hourly ledger
#
# A shopkeeper writes down what comes in, what goes out, and what is left. Do the same with water,
# food and light, hour by hour, and the walk home becomes something you can plan. Then answer the
# question that this project began with: **is half a litre of water enough?**
#
# *About 45 minutes. Lesson 1 is enough to follow.*

# %%
import pandas as pd

from lesson import check, show
from simulator import Plan, demo_folder, walk_home

plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
walk = walk_home(plan)
walk.hours[
    ["clock_start", "place", "distance_km", "water_lost_ml", "refilled_ml", "water_left_ml"]
].round(1)

# %% [markdown]
# Each row is an hour since you left. The whole ledger is wider; this is its drawing. Bars up are
# what you have, hatched bars down are what you lack.

# %%
from simulator.report.figures.profile import ledger

show(ledger(walk), "Water, food and lamp hour by hour, and the temperature that is felt.")

# %% [markdown]
# A ledger has one iron rule: it adds up. What you set out with, and what you filled, less what
# you drank, is what you have left. If that fails by a drop, something is wrong in the program.

# %%
water = walk.summary["water"]
left = water["carried_l"] + water["refilled_l"] - water["drunk_l"]
print(f"{left:.3f} l by adding up, {water['left_l']:.3f} l in the ledger")

# %% [markdown]
# ## Where the water goes
#
# You lose water in four ways: sweat, breath, through dry skin, and urine. In the cool the last
# three are most of it; in the heat, sweat is. The sweat comes from a heat balance (ISO 7933) and
# fitted equations (Gonzalez and others 2009, *J Appl Physiol* 107:379-388). They differ widely;
# the figure shows by how much for one walker. Hatched is where no source reaches and the tool
# makes do.

# %%
import numpy as np

from curves import band_figure, quantity
from simulator.body import water as body_water

air_c = np.linspace(-5.0, 38.0, 173)
losses = [
    body_water.water_loss_g_h(350.0, 1.98, air_c, 50.0, 3.0, 0.0, 0.9, walk_m_s=1.3, sweat=sweat)
    for sweat in ("low", "middle", "high")
]
low, middle, high = (loss.total_g_h for loss in losses)
show(
    band_figure(
        air_c,
        (low, middle, high),
        across=quantity("air_c"),
        up="water lost (g/h)",
        outside=~losses[1].in_range,
        names=("lowest", "used", "highest"),
    ),
    "All the water one walker loses in an hour, with the spread of the published equations.",
)

# %% [markdown]
# ## The half-litre question
#
# The bag holds a bottle of half a litre, and an empty flask for another half. Ask the ledger four
# times: a cold evening and a hot afternoon, each with and without stopping to fill.

# %%
hot = {"air_c": 31, "humidity_pct": 45, "wind_m_s": 2, "cloud_pct": 20, "rain_mm_h": 0}
july = plan.with_changes(weather=hot, trip={"depart": "2026-07-21T13:00:00"})
no_stops = {"refill_reach_m": 0}
walks = {
    "November, filling": walk,
    "November, no stops": walk_home(plan.with_changes(choices=no_stops)),
    "July, filling": walk_home(july),
    "July, no stops": walk_home(july.with_changes(choices=no_stops)),
}
told = ["need_l", "carried_l", "refilled_l", "drunk_l", "left_l", "short_l"]
pd.DataFrame(
    {name: {key: one.summary["water"][key] for key in told} for name, one in walks.items()}
).round(2)

# %%
show(ledger(walks["July, no stops"]), "July without filling: the bottle is empty within the hour.")

# %% [markdown]
# What does such a loss do? The measure is water lost as a share of body mass, one litre being one
# kilogram.

# %%
from simulator.body.drinking import DEHYDRATION_STEPS, DO_NOT_OVERDRINK, DO_NOT_RATION

for step in DEHYDRATION_STEPS:
    print(f"from {step.from_pct:.0f} %: {step.means}  [{step.source}]")
for name, one in walks.items():
    print(f"{name:20} {one.summary['water']['worst_body_mass_loss_pct']:.1f} %")

# %% [markdown]
# So: on the cold evening half a litre is not *enough*, but the lack is a thirst and no danger for
# a healthy adult. On the hot afternoon it is nowhere near, and all that is needed would weigh
# more than everything else in the bag. What makes the difference is not a bigger bottle: it is
# *knowing where to fill it*. That is what the lanes below are for.

# %%
from simulator.report.figures.profile import refill_strip

show(refill_strip(walks["July, filling"]), "Where water, food, shelter and help lie along the way.")

# %%
print(DO_NOT_RATION)
print(DO_NOT_OVERDRINK)

# %% [markdown]
# People who mean well tell you to save water for later. The published guidance says the opposite:
# what you have drunk helps you, what is in the bottle does not. Drink by thirst, and look for
# more early. Water from a stream needs treatment by the label of what you carry, waiting time
# included. Nothing in a small bag helps against fuel or chemicals in it.
#
# ## Food
#
# The ledger may be short of energy, too. That sounds worse than it is:

# %%
from simulator.body.energy import ONE_DAY_SHORTAGE

food = walk.summary["food"]
print(f"needed {food['need_kcal']:.0f}, eaten {food['eaten_kcal']:.0f} kcal")
print(ONE_DAY_SHORTAGE)

# %% [markdown]
# ## Light
#
# The lamp is a ledger as well: hours in the dark on streets without light, against hours in the
# battery. This evening the power is out, so every street is dark.

# %%
light = walk.summary["light"]
print(
    f"{light['dark_h']:.1f} h dark, {light['unlit_h']:.1f} h of them walking without street lights"
)
print(f"{light['carried_h']:.0f} h of light in the bag")

# %% [markdown]
# Look at the bag list before you believe the last number: part of it is a glow stick, "to be seen
# by; too faint for rough ground". A ledger is only as honest as its entries.
#
# **Mind.** These figures are for a healthy adult. Illness, age, pregnancy and some medicines
# lower every limit; ask a doctor before you plan a walk on them. Someone who is confused, stops
# sweating in the heat or cannot stop shivering needs help now: call for it.
#
# ## Exercises
#
# **3.1** In November without stops, in which hour of the walk (1 is the first) does water run
# short?

# %%
answer_3_1 = ...
short_ml = walks["November, no stops"].hours["water_short_ml"].to_numpy()
check(
    answer_3_1,
    int(np.flatnonzero(short_ml > 0)[0]) + 1,
    hint="Look for the first row of walks[...].hours where water_short_ml is above zero.",
)

# %% [markdown]
# **3.2** A walker of 60 kg is 1.5 litres short. What per cent of body mass is that? (One
# decimal.)

# %%
from simulator.body.drinking import dehydration_pct

answer_3_2 = ...
check(
    answer_3_2,
    float(dehydration_pct(1500, 60)),
    within=0.05,
    hint="One litre is one kilogram.",
)

# %% [markdown]
# **3.3** How many litres more than in November does the walk need in July, filling both times?
# (One decimal.)

# %%
answer_3_3 = ...
check(
    answer_3_3,
    walks["July, filling"].summary["water"]["need_l"] - water["need_l"],
    within=0.06,
    hint="Row need_l of the table.",
)

# %% [markdown]
# **3.4** Is the shortage of food on this walk a danger for a healthy adult? `"yes"` or `"no"`.

# %%
answer_3_4 = ...
check(answer_3_4, "no", hint="Read the sentences under Food again.")
