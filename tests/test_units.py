"""Numbers in both unit systems.

Check values: NIST Special Publication 811 (2008), appendix B.8 and B.9 (mile 1.609 344 km, foot
0.3048 m, US fluid ounce 29.573 53 mL, US liquid quart 0.946 352 9 L, pound 0.453 592 37 kg).
"""

from __future__ import annotations

import math

import pytest

from simulator.units import Units, duration, energy, number, percent

METRIC, US = Units("metric"), Units("us")


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (METRIC.long(25_300.0), "25.3 km"),
        (US.long(1609.344 * 26.2), "26.2 mi"),
        (METRIC.near(84.0), "80 m"),
        (US.near(30.48), "100 ft"),
        (METRIC.near(1900.0), "1.9 km"),
        (METRIC.height(187.4), "187 m"),
        (US.height(304.8), "1000 ft"),
        (METRIC.volume(2608.0), "2.6 L"),
        (US.volume(946.3529 * 3), "3.0 qt"),
        (US.volume(29.57353 * 12), "12 fl oz"),
        (METRIC.mass(4.0), "4.0 kg"),
        (US.mass(0.45359237 * 5), "5.0 lb"),
        (METRIC.degrees(-1.2), "\N{MINUS SIGN}1 °C"),
        (METRIC.degrees(-0.2), "0 °C"),
        (US.degrees(-40.0), "\N{MINUS SIGN}40 °F"),
        (US.degrees(100.0), "212 °F"),
        (METRIC.pace(4.83), "4.8 km/h"),
        (METRIC.cups(860.0), "0.9 L"),
        (US.cups(29.57353 * 45), "45 fl oz"),
        (METRIC.level(2.5), "2.5 m"),
        (US.level(2.5), "8.2 ft"),
        (US.level(0.3048 * 12), "12 ft"),
        (METRIC.warmer(5.0), "5 °C"),
        (US.warmer(5.0), "9 °F"),  # a kelvin is 1.8 degrees Fahrenheit, SP 811 B.9
        (US.pace(1.609344 * 3), "3.0 mph"),
    ],
)
def test_amounts_are_said_in_the_units_asked_for(said: str, expected: str) -> None:
    assert said == expected


def test_what_is_not_known_is_said_to_be_unknown() -> None:
    nothing = math.nan
    for units in (METRIC, US):
        for say in (
            units.long,
            units.near,
            units.height,
            units.volume,
            units.mass,
            units.degrees,
            units.cups,
            units.level,
            units.warmer,
        ):
            assert say(nothing) == "unknown"
    assert duration(nothing) == energy(nothing) == "unknown"


def test_a_length_of_time_never_shows_sixty_minutes() -> None:
    assert duration(1.9999) == "2 h 00 min"
    assert duration(0.9999) == "1 h 00 min"


def test_only_numbers_are_numbers() -> None:
    assert number(3) == 3.0
    assert all(math.isnan(number(value)) for value in (None, "3", b"3", object()))


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "0 %"),
        (1e-9, "under 1 %"),
        (0.0099, "under 1 %"),
        (0.01, "1 %"),
        (0.015, "2 %"),
        (0.342, "34 %"),
        (0.99, "99 %"),
        (0.9901, "over 99 %"),
        (1.0 - 1e-9, "over 99 %"),
        (1.0, "100 %"),
        (math.nan, "unknown"),
    ],
)
def test_a_chance_is_none_or_certain_only_when_it_is(chance: float, said: str) -> None:
    # A blank between number and sign: SI brochure, 9th edition, 5.4.7.
    assert percent(chance) == said
