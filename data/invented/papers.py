"""The demo's plan and bag list, as a person would write them. Prices and masses are invented."""

from __future__ import annotations

_PLAN = """\
# The walk home from work on the day the power failed. Every line can be changed.
# The place is invented: at these coordinates is open sea.
title = "{title}"
units = "metric"                     # or "us" for miles, feet, ounces in what is printed

[trip]
start = {start:<28} # latitude, longitude: {start_is}
home = {home:<29} # {home_is}
via = []                             # places to pass, in order, e.g. a school
depart = 2026-11-18T16:30:00         # clock time where the walk starts; it is dark soon after

[map]
{extract:<36} # streets and places, in the form of OpenStreetMap
elevation = ["heights.tif"]          # heights; without them the ground counts as flat
smoothing_m = 30                     # evens out the noise of the survey

[walker]                             # for a group write several [[walker]] tables
mass_kg = 80
height_m = 1.78
age_y = 40
sex = "male"                         # used by the published models only
pace_factor = 1.0                    # own pace over the model's, from one timed walk
clothing_clo = 1.0                   # trousers, shirt, jumper and a light jacket

[bag]
items = "bag.csv"
capacity_l = 5.0
budget = 220                         # in all, in the currency of the list
spend = 60                           # new money, of it

[weather]                            # as forecast, the same all evening
air_c = 5.5
humidity_pct = 85
wind_m_s = 4
cloud_pct = 80
rain_mm_h = 0.2

[event]
kind = "power failure"               # no street lights, taps may lose pressure, shops shut
closed = []                          # e.g. ["Old Ossen Bridge"]: names on the map, way numbers

[choices]
rest_min_per_h = 10
longest_day_h = 14                   # then shelter until first light
refill_reach_m = 300                 # how far off the way a refill may lie
page = "A4"                          # or "Letter"
"""

BAG = """\
item,purpose,kind,tier,quantity,mass_g,volume_ml,price,expires,water_ml,holds_ml,treats_ml,energy_kcal,light_h,warmth_clo,power_wh,fits,caution
water bottle half litre full,water,bottle,basic,1,540,560,4.00,,500,500,,,,,,,
soft flask half litre empty,water,flask,comfort,1,35,60,11.00,,0,500,,,,,,,fill it before leaving
purification tablets,water,treatment,basic,1,15,20,6.50,2029-04-30,,,20000,,,,,,as the label says
oat bars,food,,basic,3,62,75,1.40,2027-03-31,,,,260,,,,,
nut mix,food,,comfort,1,100,140,2.80,2027-01-31,,,,600,,,,,contains nuts
foil blanket,warmth,wrap,basic,1,60,90,3.50,,,,,,,,,,
thin rain poncho,shelter,rainwear,basic,1,90,180,6.00,,,,,,,,,,
wool hat,warmth,hat,basic,1,70,220,9.00,,,,,,,0.05,,,
knitted gloves,warmth,gloves,basic,1,60,150,7.00,,,,,,,0.05,,,
dry walking socks,warmth,socks,basic,1,75,200,8.00,,,,,,,,,,
head torch,light,lamp,basic,1,85,130,18.00,,,,,,4,,,AAA,
spare batteries,power,cells,basic,1,36,25,4.50,2033-12-31,,,,,4,,,AAA,keep from small children
glow stick,light,marker,basic,1,25,30,1.50,2028-06-30,,,,,8,,,,to be seen by; not to see by
whistle,signal,whistle,basic,1,10,15,3.00,,,,,,,,,,
first-aid pouch,first aid,dressings,basic,1,140,300,14.00,2028-09-30,,,,,,,,,
blister plasters,first aid,foot care,basic,1,15,25,5.50,2028-02-28,,,,,,,,,
spigot key four-way,tool,tap key,comfort,1,95,60,9.50,,,,,,,,,,open only taps you have leave to use
folding multi-tool,tool,blade,comfort,1,150,70,,,,,,,,,,,blades may be forbidden where you walk
paper map of the way,paper,map,basic,1,45,60,5.00,,,,,,,,,,
pencil,paper,,basic,1,6,8,0.50,,,,,,,,,,
power bank,power,power bank,comfort,1,190,130,16.00,,,,,,,,18,USB,
charging cable,power,cable,comfort,1,20,40,4.00,,,,,,,,,USB,
hygiene wipes,hygiene,,basic,1,,110,2.20,2027-11-30,,,,,,,,,
small coins and notes,other,,basic,1,60,30,,,,,,,,,,,card readers stop with the power
"""


def plan_text(
    title: str,
    extract: str,
    start: tuple[float, float],
    home: tuple[float, float],
    *,
    start_is: str,
    home_is: str,
) -> str:
    """Give a commented plan.toml; start and home are lat, lon in degrees."""
    return _PLAN.format(
        title=title,
        extract=f'extract = "{extract}"',
        start=str(list(start)),
        home=str(list(home)),
        start_is=start_is,
        home_is=home_is,
    )
