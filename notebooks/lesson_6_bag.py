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
# # Lesson 6: The bag
#
# Five litres, a little money, and a list of things that would all be useful. What goes in? In
# this lesson you hold a bag against its walk, learn why an empty cell is not a zero, let a
# programme choose exactly, and put a price on the walls of the bag.
#
# *About 50 minutes. Lessons 1 and 3 help.*

# %%
from dataclasses import replace

import numpy as np
import pandas as pd

from lesson import check, show
from simulator import Plan, demo_folder
from simulator.questions.bag import pack

plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
packed = pack(plan, choosing=True, most_runs=0)

# %% [markdown]
# ## What is in it
#
# The list is a plain table. Anyone can weigh a bag: a kitchen scale and half an hour.

# %%
columns = ["item", "purpose", "tier", "quantity", "mass_g", "volume_ml", "price"]
packed.items.table[columns].head(10)

# %%
for name in ("mass_g", "volume_ml", "price"):
    total = packed.items.total(name)
    print(f"{name:10} at least {total.known:.0f}, unknown for {total.unknown_count} of the items")

# %% [markdown]
# "At least": somebody never weighed the wipes. An empty cell means *unknown*. Counting it as zero
# would make the bag lighter by writing less, so the sum says how much it does not know. Write `0`
# only where there is none.
#
# ## What the walk asks of it
#
# The walk was walked hour by hour. From that come the demands: enough water to reach each tap,
# room to fill, light for the dark hours, warmth at each hour's effort, and so on.

# %%
pd.DataFrame(
    [
        {
            "demand": one.demand.label,
            "needed": one.demand.need,
            "in the bag": one.have,
            "missing": one.short,
            "unit": one.demand.unit,
            "not known for": ", ".join(one.unknown),
        }
        for one in packed.balances
    ]
).round(2)

# %% [markdown]
# Look at *in the bag* before you look at *missing*. The warmth is a lower bound where a name stands
# in the last column: nobody has found a published number for it, so its cell is empty. A walker
# who shivers will not care about the cell; a planner must.
#
# ## Choosing is harder than sorting
#
# You have 10 in the purse. A lamp costs 6 and is worth 10 to you. A hat costs 5 and is worth 8. A
# whistle with a mirror costs 5 and is worth 8. Sort by worth per money, take from the top:

# %%
price = np.array([6.0, 5.0, 5.0])
worth = np.array([10.0, 8.0, 8.0])
print(
    "worth per money:", (worth / price).round(2), "-> the lamp; then 4 are left, and nothing fits"
)

# %% [markdown]
# Worth 10. Hat and whistle together would be worth 16. No rule of thumb is safe from that,
# because things cannot be cut in half. An *integer programme* tries all whole choices, cleverly
# enough to finish (branch and bound: Land and Doig 1960, *Econometrica* 28:497-520).

# %%
from simulator.bag.choose import Goal, PackLimit, best

one_each = np.array([1, 1, 1])
purse = PackLimit("money", price, 10.0)
chosen = best(one_each, [purse], [Goal("worth", worth, "most")])
print("pieces of each:", chosen, "worth", worth @ chosen)

# %% [markdown]
# ## The real choice
#
# What is "worth"? Adding up points for a bandage and points for chocolate is a fight. So the
# goals stand in *ranks*: first the urgent purposes, then what the walk asks, then the other
# purposes, then comfort. A goal further down never takes anything from one above it. Among equals
# the cheapest bag wins, then the lightest.

# %%
choice = packed.choice
print(f"buy for {choice.spent:.2f}: {', '.join(choice.bought.item)}")
print(f"leave at home: {', '.join(name for name, _ in choice.left_out) or 'nothing'}")
print(f"still missing: {', '.join(choice.unmet) or 'nothing'}")

# %% [markdown]
# (Prices are invented, in no currency. Make a list of your own shops.)
#
# Now begin with *nothing* and little money, and watch what comes in.

# %%
from simulator.bag.catalogue import read_catalogue
from simulator.bag.choose import Choice, choose

goods = read_catalogue()
asked = [one.demand for one in packed.balances]


def bag_for(budget: float) -> Choice:
    """Choose the best bag from nothing, for some money."""
    limits = replace(packed.limits, budget=budget, spend=None)
    return choose(None, goods, asked, limits=limits, ask_more=False)


budgets = np.array([10.0, 20.0, 30.0, 35.0, 40.0, 60.0, 80.0, 110.0, 150.0])
bags = [bag_for(budget) for budget in budgets]
pd.DataFrame(
    {
        "budget": budgets,
        "spent": [bag.spent for bag in bags],
        "purposes without anything": [", ".join(bag.uncovered) for bag in bags],
        "demands not met": [", ".join(bag.unmet) for bag in bags],
        "comfort": [bag.value for bag in bags],
    }
).round(1)

# %%
from curves import lines_figure

show(
    lines_figure(
        budgets,
        {"comfort": np.array([bag.value for bag in bags])},
        across="budget",
        up="comfort (points)",
        from_zero=True,
        height_in=2.2,
    ),
    "Comfort against budget: little until the basics are there, then ever less for the money.",
)

# %% [markdown]
# The first money buys hardly any comfort: it goes to the basics. Then the curve bends, because
# the cheap good things come first. A bag that does what it must costs much less than one that has
# everything.
#
# ## What a wall is worth
#
# Every limit is a wall: money, room, mass. Which one are you standing against? Move each by a
# little and see whether the answer gets better. Economists call that a shadow price.

# %%
for more in choice.more:
    takes = ", ".join(f"{count} {name}" for name, count in more.takes)
    print(f"{more.step:g} more {more.limit}: {takes}; {more.improves} better by {more.by:.1f}")

# %% [markdown]
# Each line says the *least* that brings anything at all, to the millilitre and the penny: a
# breakpoint. A limit that is not in the list is not your wall: more of it buys you nothing.
#
# **Mind.** Weigh what you can *carry for eight hours*, not what you can lift: a tenth of your
# body mass is plenty, less for children. Medicines need a doctor's or pharmacist's word, and a
# place that is not too hot. Blades, keys for taps and fuel fall under the law where you walk.
# Lithium cells and small batteries stay away from children. And look into the bag twice a year:
# dates pass.
#
# ## Exercises
#
# **6.1** You find one more coin: 11 in the purse. What is the best worth now? (Change `purse`.)

# %%
answer_6_1 = ...
eleven = best(one_each, [PackLimit("money", price, 11.0)], [Goal("worth", worth, "most")])
check(answer_6_1, float(worth @ eleven), hint="Lamp and hat cost 11 together.")

# %% [markdown]
# **6.2** Which demand of the walk does the demo bag not meet? Its label, from the table.

# %%
answer_6_2 = ...
check(
    answer_6_2,
    [one.demand.label for one in packed.shortages],
    hint="The row in which something is missing. Several? Give a list.",
)

# %% [markdown]
# **6.3** Which is the smallest budget of the table that leaves no purpose without anything and no
# demand unmet?

# %%
answer_6_3 = ...
enough = [
    budget for budget, bag in zip(budgets, bags, strict=True) if not bag.unmet and not bag.uncovered
]
check(answer_6_3, float(enough[0]), hint="Two columns must be empty.")

# %% [markdown]
# **6.4** Which limits does the best bag stand against: `"budget"` (the bag in all), `"spend"` (new
# money), `"volume"` or `"mass"`? Name all.

# %%
answer_6_4 = ...
check(answer_6_4, {more.limit for more in choice.more}, hint="See the list under the wall.")
