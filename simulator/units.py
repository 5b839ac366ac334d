"""Numbers as people read them: metric or US customary, rounded to what the models can know.

Conversion factors are exact by definition (NIST Special Publication 811, 2008, appendix B.8:
mile, foot, pound, US fluid ounce and liquid quart).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

System = Literal["metric", "us"]

METRES_PER_MILE = 1609.344
METRES_PER_FOOT = 0.3048
MILLILITRES_PER_FLUID_OUNCE = 29.5735295625
MILLILITRES_PER_QUART = 946.352946
KILOGRAMS_PER_POUND = 0.45359237
MM_PER_INCH = 25.4
FAHRENHEIT_PER_KELVIN = 1.8
FAHRENHEIT_AT_ZERO_CELSIUS = 32.0

UNKNOWN = "unknown"
"""What stands where a model or a person could not give a number."""

MINUTES_PER_HOUR = 60
MINUTE_S = 60.0
HOUR_S = 3600.0
DAY_S = 86_400.0
METRES_PER_KM = 1000.0
ML_PER_L = 1000.0
G_PER_KG = 1000.0
NEAR_M = 1000.0  # below this a distance is told in metres or feet
LEAST_CHANCE = 0.01
"""Chances are said to this; what lies closer to none or to certain is said as under or over it."""


@dataclass(frozen=True, slots=True)
class Units:
    """One system of units: factors from SI and the words for them.

    Parameters
    ----------
    system : {"metric", "us"}
        Which units a person asked for.
    """

    system: System = "metric"

    @property
    def us(self) -> bool:
        """Whether these are US customary units."""
        return self.system == "us"

    @property
    def long_name(self) -> str:
        """Symbol of the long distance unit."""
        return "mi" if self.us else "km"

    @property
    def long_m(self) -> float:
        """Metres in one long distance unit."""
        return METRES_PER_MILE if self.us else METRES_PER_KM

    @property
    def short_name(self) -> str:
        """Symbol of the short distance and height unit."""
        return "ft" if self.us else "m"

    @property
    def short_m(self) -> float:
        """Metres in one short distance unit."""
        return METRES_PER_FOOT if self.us else 1.0

    @property
    def volume_name(self) -> str:
        """Symbol of the volume unit of the walk's water."""
        return "qt" if self.us else "L"

    @property
    def volume_ml(self) -> float:
        """Millilitres in one volume unit."""
        return MILLILITRES_PER_QUART if self.us else ML_PER_L

    @property
    def cup_name(self) -> str:
        """Symbol of the volume unit of tables: small enough for what an hour takes."""
        return "fl oz" if self.us else "L"

    @property
    def cup_ml(self) -> float:
        """Millilitres in one volume unit of tables."""
        return MILLILITRES_PER_FLUID_OUNCE if self.us else ML_PER_L

    @property
    def cup_digits(self) -> int:
        """Decimals of that unit that are shown."""
        return 0 if self.us else 1

    @property
    def temperature_name(self) -> str:
        """Symbol of the temperature unit."""
        return "°F" if self.us else "°C"

    @property
    def sidewalk(self) -> str:
        """What a raised way for walkers beside a road is called."""
        return "sidewalk" if self.us else "pavement"

    def temperature(self, celsius: float) -> float:
        """Temperature in this system's unit.

        Parameters
        ----------
        celsius : float
            Temperature [°C].

        Returns
        -------
        float
            The same in `temperature_name`.
        """
        if self.us:
            return celsius * FAHRENHEIT_PER_KELVIN + FAHRENHEIT_AT_ZERO_CELSIUS
        return celsius

    def long(self, distance_m: float, *, digits: int = 1) -> str:
        """Say a distance along the way, e.g. ``25.3 km``.

        Parameters
        ----------
        distance_m : float
            Distance [m].
        digits : int
            Decimals shown.

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        return _said(distance_m / self.long_m, self.long_name, digits)

    def near(self, distance_m: float) -> str:
        """Say a distance off the way to the nearest 10 m (or 10 ft), long ones as `long`.

        Parameters
        ----------
        distance_m : float
            Distance [m].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        if distance_m >= NEAR_M:
            return self.long(distance_m)
        return _said(_to_tens(distance_m / self.short_m), self.short_name, 0)

    def height(self, height_m: float) -> str:
        """Say a height or a climb to the nearest metre, or 10 ft.

        Parameters
        ----------
        height_m : float
            Height [m].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        shown = height_m / self.short_m
        return _said(_to_tens(shown) if self.us else shown, self.short_name, 0)

    def volume(self, water_ml: float) -> str:
        """Say an amount of water: litres or quarts; under a quart, fluid ounces.

        Parameters
        ----------
        water_ml : float
            Water [ml].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        if self.us and abs(water_ml) < MILLILITRES_PER_QUART:
            return _said(water_ml / MILLILITRES_PER_FLUID_OUNCE, "fl oz", 0)
        return _said(water_ml / self.volume_ml, self.volume_name, 1)

    def cups(self, water_ml: float) -> str:
        """Say an amount of water for a table, where every row has the same unit.

        Parameters
        ----------
        water_ml : float
            Water [ml].

        Returns
        -------
        str
            Litres or fluid ounces, or ``unknown``.
        """
        return _said(water_ml / self.cup_ml, self.cup_name, self.cup_digits)

    def level(self, height_m: float) -> str:
        """Say a height that a person wrote, as exactly as it was written; feet to a tenth.

        Parameters
        ----------
        height_m : float
            Height [m].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        feet = f"{height_m / METRES_PER_FOOT:,.1f}".removesuffix(".0")
        return _with_unit(height_m, feet if self.us else f"{height_m:g}", self.short_name)

    def mass(self, mass_kg: float) -> str:
        """Say a mass.

        Parameters
        ----------
        mass_kg : float
            Mass [kg].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        if self.us:
            return _said(mass_kg / KILOGRAMS_PER_POUND, "lb", 1)
        return _said(mass_kg, "kg", 1)

    def degrees(self, celsius: float) -> str:
        """Say a temperature to the degree.

        Parameters
        ----------
        celsius : float
            Temperature [°C].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        return _said(self.temperature(celsius), self.temperature_name, 0)

    def warmer(self, kelvin: float) -> str:
        """Say a difference of temperature to the degree.

        Parameters
        ----------
        kelvin : float
            Difference [K].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        shown = kelvin * FAHRENHEIT_PER_KELVIN if self.us else kelvin
        return _said(shown, self.temperature_name, 0)

    def pace(self, speed_km_h: float) -> str:
        """Say a walking speed.

        Parameters
        ----------
        speed_km_h : float
            Speed [km/h].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        return _said(speed_km_h * METRES_PER_KM / self.long_m, "mph" if self.us else "km/h", 1)

    def wind(self, wind_m_s: float) -> str:
        """Say a speed of the wind, as weather reports do.

        Parameters
        ----------
        wind_m_s : float
            Speed [m/s].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        per_hour = wind_m_s * HOUR_S / self.long_m
        return _said(per_hour, "mph" if self.us else "km/h", 0)

    def rain(self, rain_mm_h: float) -> str:
        """Say a rate of rain.

        Parameters
        ----------
        rain_mm_h : float
            Rate [mm/h].

        Returns
        -------
        str
            Number and unit, or ``unknown``.
        """
        if self.us:
            return _said(rain_mm_h / MM_PER_INCH, "in/h", 1)
        return _said(rain_mm_h, "mm/h", 0)


def duration(hours: float) -> str:
    """Say a length of time, e.g. ``6 h 05 min``.

    Parameters
    ----------
    hours : float
        Length of time [h].

    Returns
    -------
    str
        Hours and minutes, minutes alone under an hour, or ``unknown``.

    Examples
    --------
    >>> duration(6.08)
    '6 h 05 min'
    >>> duration(0.5)
    '30 min'
    """
    if not math.isfinite(hours):
        return UNKNOWN
    minutes = round(hours * MINUTES_PER_HOUR)
    whole, rest = divmod(minutes, MINUTES_PER_HOUR)
    return f"{whole} h {rest:02d} min" if whole else f"{rest} min"


def percent(chance: float) -> str:
    """Say a chance in whole per cent; one that may be is never said as none, nor as certain.

    Parameters
    ----------
    chance : float
        Chance, 0 to 1.

    Returns
    -------
    str
        Number and sign, ``under 1 %``, ``over 99 %``, or ``unknown``.

    Examples
    --------
    >>> percent(0.342), percent(0.004), percent(0.996), percent(1.0)
    ('34 %', 'under 1 %', 'over 99 %', '100 %')
    """
    if 0.0 < chance < LEAST_CHANCE:
        return f"under {_said(100.0 * LEAST_CHANCE, '%', 0)}"
    if 1.0 - LEAST_CHANCE < chance < 1.0:
        return f"over {_said(100.0 - 100.0 * LEAST_CHANCE, '%', 0)}"
    return _said(100.0 * chance, "%", 0)


def energy(kcal: float) -> str:
    """Say an amount of food energy to the nearest 10 kcal.

    Parameters
    ----------
    kcal : float
        Energy [kcal].

    Returns
    -------
    str
        Number and unit, or ``unknown``.
    """
    return _said(_to_tens(kcal), "kcal", 0)


def number(value: object) -> float:
    """Read a number from a table or a summary; NaN for what is missing or not a number.

    Parameters
    ----------
    value : object
        Anything a cell may hold.

    Returns
    -------
    float
        The value, or NaN.
    """
    if value is None or isinstance(value, str | bytes):
        return math.nan
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return math.nan


def _to_tens(value: float) -> float:
    return round(value, -1) if math.isfinite(value) else value


def _said(value: float, unit: str, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return _with_unit(value, text.lstrip("-") if float(text) == 0.0 else text, unit)


def _with_unit(value: float, text: str, unit: str) -> str:
    return f"{text.replace('-', chr(0x2212))} {unit}" if math.isfinite(value) else UNKNOWN
