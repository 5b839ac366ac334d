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
# # Lesson 5: Odds and the year
#
# "You will be home at 23:56." Nobody can know that. Your pace of the day, the wind, a blister, a
# dry tap: each moves the hour. In this lesson you walk home two thousand times, learn how far to
# trust a chance that came from drawing, find out what decides, and see what the season does.
#
# *About 50 minutes. Lessons 1 and 3 help.*

# %%
import pandas as pd

from lesson import check, paper, show
from simulator import Plan, demo_folder, walk_home
from simulator.questions.odds import odds

plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
answer = odds(plan, walks=2000, seed=1, decide=32)

# %% [markdown]
# ## What was drawn
#
# Each walk drew its own pace, rests, sweat, weather error, small injury, and whether each tap and
# shop worked that evening. How far each one spreads is written down, with its ground. Many are
# *assumed*: read them as what they are, and change them in the plan when you know better.

# %%
spreads = pd.DataFrame(answer.document["distributions"])[["key", "value", "says"]]
spreads.head(12).style.hide(axis="index")

# %% [markdown]
# ## Not an hour but a curve
#
# Sort the two thousand arrivals and count upward. Where the curve is steep, most walks end.

# %%
from simulator.report.figures.odds import arrivals_figure, ranking_figure, shortages_figure

axes = paper()
arrivals_figure(answer, axes)
show(axes, "How many of the walks are home after how many hours.")

# %%
hours = answer.walks["elapsed_h"]
single = walk_home(plan).summary["time"]["elapsed_h"]
print(f"the one walk of lesson 1: {single:.1f} h")
print(f"half of the walks within {hours.median():.1f} h")
print(f"nine in ten within {hours.quantile(0.9):.1f} h")

# %% [markdown]
# The one walk is not the middle one. Trouble only ever makes you later: there is no such thing as
# an anti-blister. So promise the family the nine-in-ten hour, not the middle one.
#
# ## How far to trust a chance
#
# What is the chance that the bottle runs dry at some point? Count the walks in which it did. But
# another two thousand would give another count. The *standard error* says by how much.

# %%
from simulator.questions.odds import chance_of

dry = (answer.walks["water_short_l"] > 0).to_numpy()
for walks in (50, 200, 800, 2000):
    told = chance_of(dry[:walks])
    print(
        f"{walks:5} walks: {told['chance']:.1%}, standard error {told['standard_error']:.1%}, "
        f"95 % between {told['low']:.1%} and {told['high']:.1%}"
    )

# %% [markdown]
# Four times the walks halve the error: for a share *p* of *n* walks it is √(p(1-p)/n). The range
# is that of Wilson (1927), *J Am Stat Assoc* 22:209-212, which stays sensible when nothing was
# counted at all: "never in 2000" does not mean "never".
#
# Mind what the standard error does *not* say. It is about drawing. If the assumed spreads are
# wrong, ten million walks will give a wrong answer to six digits.

# %%
axes = paper(left_in=0.2)
shortages_figure(answer.document, axes)
show(axes, "The chance of each shortage, with its range and the hour from which it holds.")

# %% [markdown]
# ## What decides
#
# Which of all these spreads matters? Sobol's indices split the ups and downs of an outcome among
# its causes: the filled bar is what one cause does alone, the outline adds its interplay with the
# others (Saltelli and others 2010, *Comput Phys Commun* 181:259-270). The thin line is how sure
# the bar is; it is long here, because a lesson must be quick.
#
# Add up the outlines and you may get more than 100 %. That is no mistake: when two causes do
# something only *together*, the pair's share is in the outline of both, so it is counted twice.
# Add up the filled bars and you get 100 % at most; what is missing to it is what causes do
# together. (By chance of drawing a bar can also be a little too long, or below zero.)

# %%
for ranking in answer.rankings[:2]:
    print(ranking.words())
axes = paper(height_in=2.4, left_in=1.1)
ranking_figure(answer.rankings[0], axes)
show(axes, "What decides the time to get home.")

# %%
axes = paper(height_in=2.4, left_in=1.1)
ranking_figure(answer.rankings[1], axes)
show(axes, "What decides how much water is lost and not drunk.")

# %% [markdown]
# That is a shopping list: for each outcome, the first thing to find out.

# %%
TO_DO = {
    "pace": "time one walk of your own",
    "places": "go and see whether the taps on your way work",
    "weather": "look at the forecast of the day",
    "sweat": "weigh yourself before and after an hour's walk",
}
for ranking in answer.rankings[:2]:
    first = ranking.names[0]
    print(f"{first} decides most: {TO_DO.get(first, 'find out more about it')}")

# %% [markdown]
# ## The year
#
# The same walk, another month. First the sun over our office, day by day:

# %%
from datetime import UTC, datetime

import numpy as np

from simulator.sky.sun import elevation_series
from sun_chart import sun_year

clock, days = np.linspace(0.0, 24.0, 97), np.arange(0.0, 365.0, 7.0)
behind_h = 2.0  # this zone's clock is two hours behind universal time
midnight_s = datetime(2026, 1, 1, tzinfo=UTC).timestamp() + 3600.0 * behind_h
epoch_s = midnight_s + 86_400.0 * days[:, None] + 3600.0 * clock
heights = elevation_series(*plan.trip.start, epoch_s)
show(sun_year(heights, days, clock, across="2026 at the office"), "The sun through the year.")

# %% [markdown]
# Sun is not all. A *typical year* puts together real months from a weather station, so that hot
# afternoons and frosty nights come as often as they do. Our town is invented and has no station,
# so we borrow one: Greensboro, North Carolina (TMY3, a public data set; the package pvlib carries
# the file). Now set out once in every hour of the year.

# %%
from pathlib import Path

import pvlib

from simulator.questions.year import year

station = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
seasons = year(plan, weather=station)
print(seasons.bags[0].span.words(plan.trip.depart))

# %%
from simulator.report.figures.year import VERDICTS, category_chart

axes = paper(7.0, 3.4, below_in=0.7)
category_chart(seasons.table, "verdict", VERDICTS, axes, title="Leaving at this hour of this day")
show(axes, "White: walk. Grey: walk with care. Black: stay and wait.", dots=True)

# %%
table = seasons.table.assign(
    month=[int(when[5:7]) for when in seasons.table["depart"]],
    hour=[int(when[11:13]) for when in seasons.table["depart"]],
)
after_work = table[table["hour"] == plan.trip.depart.hour].groupby("month")
after_work[["dark_h", "water_short_l", "coldest_felt_c", "hottest_felt_c"]].mean().round(2)

# %% [markdown]
# Ask the table itself where the bad hours stand, before you tell a story about them.

# %%
bad = table[table["verdict"] == "stay and wait"]
print(f"{len(bad)} of {len(table)} hours say: stay and wait")
for month, hours_of_month in bad.groupby("month"):
    felt = hours_of_month["hottest_felt_c"].max(), hours_of_month["coldest_felt_c"].min()
    print(f"month {month}: {len(hours_of_month)} hours, felt {felt[1]:.0f} to {felt[0]:.0f} °C")

# %% [markdown]
# In your own weather they stand elsewhere. A bag that was packed in May and works in May has not
# been tried. Ask every question of this course once for the worst month of your year.
#
# **Mind.** A chance is no promise, and no permission. "Nine in ten arrive" is a bad reason to set
# out into a storm when you can stay warm where you are. Authorities see more than any model.
#
# ## Exercises
#
# **5.1** In how many of the 2000 walks, in per cent, was the walker home within 12 hours? (To the
# nearest per cent; `hours` holds them.)

# %%
answer_5_1 = ...
check(
    answer_5_1,
    100.0 * float((hours <= 12.0).mean()),
    within=1.0,
    hint="The mean of (hours <= 12.0) is a share.",
)

# %% [markdown]
# **5.2** A chance of 34 % from 2000 walks has a standard error of about 1.1 %. How many walks
# would bring it to about 0.55 %?

# %%
answer_5_2 = ...
check(answer_5_2, 8000, hint="Half the error: how many times the walks?")

# %% [markdown]
# **5.3** What decides the time to get home most? One word, from the figure.

# %%
answer_5_3 = ...
check(answer_5_3, answer.rankings[0].names[0], hint="The top bar.")

# %% [markdown]
# **5.4** Leaving at 16 h, in which month is the walk longest in the dark, on average? Its number.

# %%
answer_5_4 = ...
check(answer_5_4, int(after_work["dark_h"].mean().idxmax()), hint="Column dark_h of the table.")
