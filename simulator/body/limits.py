"""What each argument may be at all, and how far each published model reaches.

Two kinds of bound, both data. `ALLOWED` says which values are impossible (a negative mass, a
humidity above 100 %): they raise ``ValueError``. A `Limit` says where a published model stops
being backed by its source: beyond it the answer is NaN. The same records make the check, the
sentence in the docstring and the table in the documents.
"""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, ParamSpec, TypeAlias, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
"""A float64 array; a scalar call gives a ``numpy.float64``, which behaves alike."""

Flags: TypeAlias = NDArray[np.bool_]
"""A boolean array; a scalar call gives a ``numpy.bool``."""

Span: TypeAlias = tuple[float, float]
"""Least and greatest value of an argument."""

P = ParamSpec("P")

PERCENT: Final = 100.0

LIMITS_MARK = "{limits}"
"""Stands in a docstring where the limits of the model are written in words."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """The values an argument can have at all.

    Attributes
    ----------
    low, high : float
        Smallest and largest possible value, both included.
    unit : str
        Unit of both, empty for a ratio.
    """

    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Limit:
    """How far the source of a model reaches in one quantity.

    Attributes
    ----------
    quantity : str
        Argument name, or the name of a quantity made from the arguments (a joint limit), or
        ``"result"``.
    low, high : float
        Both included.
    unit : str
        Unit of both, empty for a ratio.
    why : str
        Where the bound comes from, and how well that is known.
    derive : callable or None
        Makes the quantity of a joint limit from the arguments by name.
    settled : callable or None
        Says from the arguments' least and greatest values that a joint limit is surely kept, so
        that it need not be worked out element by element.
    """

    quantity: str
    low: float
    high: float
    unit: str
    why: str
    derive: Callable[[Mapping[str, Floats]], Floats] | None = None
    settled: Callable[[Mapping[str, Span]], bool] | None = None

    def __str__(self) -> str:
        """Give the limit in words, e.g. ``slope -0.4 to 0.45``."""
        return f"{self.quantity} {_range(self.low, self.high, self.unit)}"


ALLOWED: dict[str, Allowed] = {
    "slope": Allowed(-10, 10, ""),
    "mass_kg": Allowed(1, 700, "kg"),
    "load_kg": Allowed(0, 500, "kg"),
    "height_m": Allowed(0.3, 3, "m"),
    "age_y": Allowed(0, 130, "years"),
    "speed_m_s": Allowed(0, 15, "m/s"),
    "walk_m_s": Allowed(0, 15, "m/s"),
    "terrain": Allowed(0.1, 20, ""),
    "moving_h": Allowed(0, 10_000, "h"),
    "hours": Allowed(0, 10_000, "h"),
    "metabolic_w": Allowed(0, 5_000, "W"),
    "metabolic_w_m2": Allowed(0, 2_500, "W/m2"),
    "area_m2": Allowed(0.1, 5, "m2"),
    "air_c": Allowed(-100, 100, "degrees C"),
    "radiant_c": Allowed(-150, 200, "degrees C"),
    "humidity_pct": Allowed(0, 100, "%"),
    "wind_m_s": Allowed(0, 150, "m/s"),
    "air_speed_m_s": Allowed(0, 150, "m/s"),
    "wind_km_h": Allowed(0, 540, "km/h"),
    "rain_mm": Allowed(0, 10_000, "mm"),
    "radiant_w_m2": Allowed(-500, 1_500, "W/m2"),
    "clothing_clo": Allowed(0, 20, "clo"),
    "worn_clo": Allowed(0, 20, "clo"),
    "bag_clo": Allowed(0, 20, "clo"),
    "required_evaporation_w_m2": Allowed(-5_000, 5_000, "W/m2"),
    "max_evaporation_w_m2": Allowed(-5_000, 50_000, "W/m2"),
    "body_mass_loss_pct": Allowed(-50, 100, "%"),
    "drunk_ml": Allowed(0, 1e6, "ml"),
    "lost_ml": Allowed(0, 1e6, "ml"),
    "left_kcal": Allowed(0, 1e6, "kcal"),
    "distance_m": Allowed(1, 1e8, "m"),
    "time_s": Allowed(1, 1e8, "s"),
    "share": Allowed(0, 1, ""),
    "factor": Allowed(0.01, 10, ""),
}
"""Possible values by argument name. Missing (NaN) is possible, and gives NaN."""


def floats(values: ArrayLike) -> Floats:
    """Give the values as a float64 array; no copy if they are one.

    Parameters
    ----------
    values : array_like
        Numbers.

    Returns
    -------
    ndarray
        float64.
    """
    return np.asarray(values, dtype=np.float64)


def _range(low: float, high: float, unit: str) -> str:
    tail = f" {unit}" if unit else ""
    if math.isinf(high):
        return f"from {low:.12g}{tail}"
    if math.isinf(low):
        return f"up to {high:.12g}{tail}"
    return f"{low:.12g} to {high:.12g}{tail}"


def describe(limits: Iterable[Limit]) -> str:
    """Give limits in words, for docstrings, messages and documents.

    Parameters
    ----------
    limits : iterable of Limit
        Limits of one model.

    Returns
    -------
    str
        E.g. ``speed_m_s 0 to 1.96 m/s; slope -0.4 to 0.45``; ``none stated`` if there are none.
    """
    return "; ".join(str(limit) for limit in limits) or "none stated"


def _span(values: Floats) -> tuple[float, float]:
    """Give the smallest and largest of the values that are not missing."""
    if values.ndim == 0:
        value = float(values)
        return value, value
    if values.size == 0:
        return math.nan, math.nan
    low = float(np.minimum.reduce(values, axis=None))
    if math.isnan(low):
        low = float(np.fmin.reduce(values, axis=None))
        return low, float(np.fmax.reduce(values, axis=None))
    return low, float(np.maximum.reduce(values, axis=None))


def _checked(name: str, values: ArrayLike, allowed: Allowed) -> tuple[Floats, float, float]:
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        msg = f"{name} = {values!r} is not a number; allowed: {_words(allowed)}"
        raise ValueError(msg) from None
    low, high = _span(array)
    if low < allowed.low or high > allowed.high:
        wrong = low if low < allowed.low else high
        msg = f"{name} = {wrong:g} is impossible; allowed: {_words(allowed)}"
        raise ValueError(msg)
    return array, low, high


def _words(allowed: Allowed) -> str:
    return _range(allowed.low, allowed.high, allowed.unit)


def possible(name: str, values: ArrayLike, like: str | None = None) -> Floats:
    """Give the values as a float array, refusing impossible ones.

    Parameters
    ----------
    name : str
        Argument name, for the message.
    values : array_like
        Numbers; NaN means missing and passes.
    like : str or None
        Key in `ALLOWED` where it differs from `name`.

    Returns
    -------
    ndarray
        The same values as float64.

    Raises
    ------
    ValueError
        If a value is impossible; the message names the argument, the value and the range.
    """
    return _checked(name, values, ALLOWED[like or name])[0]


def inside(limits: Iterable[Limit], values: Mapping[str, Floats]) -> Flags:
    """Say where all limits are kept.

    Parameters
    ----------
    limits : iterable of Limit
        Limits of one model.
    values : mapping of str to ndarray
        Arguments by name, ``"result"`` included if a limit asks for it.

    Returns
    -------
    ndarray of bool
        True where every limit is kept and nothing is missing.
    """
    kept: Flags = np.True_  # type: ignore[assignment]
    for limit in limits:
        quantity = limit.derive(values) if limit.derive else values[limit.quantity]
        kept = kept & (quantity >= limit.low) & (quantity <= limit.high)
    return kept


def published(
    limits: tuple[Limit, ...] = (),
) -> Callable[[Callable[P, Floats]], Callable[P, Floats]]:
    """Make a checked model from a bare formula.

    The bare formula sees float64 arrays. Arguments named in `ALLOWED` are checked against it;
    other arguments (words, flags) reach the formula as they are. Where a limit is left, the
    result is NaN. The check costs two reductions per argument; the bare formula stays reachable
    through `unchecked` for inner loops whose inputs are already known to be good.

    Parameters
    ----------
    limits : tuple of Limit
        How far the source reaches. Written into the docstring where it says ``{limits}``.

    Returns
    -------
    callable
        Decorator.
    """

    def decorate(formula: Callable[P, Floats]) -> Callable[P, Floats]:
        bare = cast("Callable[..., Floats]", formula)
        parameters = inspect.signature(formula).parameters.values()
        positional = [p.name for p in parameters if p.kind is not p.KEYWORD_ONLY]
        defaults = {p.name: p.default for p in parameters if p.default is not p.empty}
        plain = tuple(limit for limit in limits if limit.derive is None)
        joint = tuple(limit for limit in limits if limit.derive is not None)
        of_argument = tuple(limit for limit in plain if limit.quantity != "result")
        of_result = tuple(limit for limit in plain if limit.quantity == "result")

        @functools.wraps(formula)
        def checked(*args: P.args, **kwargs: P.kwargs) -> Floats:
            if len(args) > len(positional):
                return formula(*args, **kwargs)  # lets Python say what is wrong with the call
            values: dict[str, Any] = defaults | dict(zip(positional, args, strict=False)) | kwargs
            spans: dict[str, Span] = {}
            for name, value in values.items():
                allowed = ALLOWED.get(name)
                if allowed is not None:
                    values[name], low, high = _checked(name, value, allowed)
                    spans[name] = (low, high)
            left = [
                limit
                for limit in of_argument
                if limit.quantity in spans
                and not (
                    spans[limit.quantity][0] >= limit.low and spans[limit.quantity][1] <= limit.high
                )
            ]
            open_joint = [
                limit for limit in joint if limit.settled is None or not limit.settled(spans)
            ]
            if not left and not open_joint and not of_result:
                return bare(**values)[()]
            with np.errstate(all="ignore"):  # beyond the limits the formula may not even exist
                result = bare(**values)
                kept = inside((*left, *open_joint, *of_result), {**values, "result": result})
            if np.all(kept):
                return result[()]
            return np.where(kept, result, np.nan)[()]

        if checked.__doc__:
            checked.__doc__ = checked.__doc__.replace(LIMITS_MARK, describe(limits))
        return checked

    return decorate


def unchecked(model: Callable[P, Floats]) -> Callable[P, Floats]:
    """Give the bare formula of a checked model, for inner loops.

    Parameters
    ----------
    model : callable
        A function made by `published`.

    Returns
    -------
    callable
        The same formula without checks and without limits: it takes float64 arrays only, and
        beyond its source's range it gives a number that means nothing.
    """
    return cast("Callable[P, Floats]", inspect.unwrap(model))


def one_of(name: str, value: object, choices: Iterable[str]) -> str:
    """Give a word if it is among the choices.

    Parameters
    ----------
    name : str
        Argument name, for the message.
    value : object
        What was given.
    choices : iterable of str
        Allowed words.

    Returns
    -------
    str
        The word.

    Raises
    ------
    ValueError
        If it is not among them; the message lists them.
    """
    known = tuple(choices)
    if not isinstance(value, str) or value not in known:
        msg = f"{name} = {value!r} is unknown; allowed: {', '.join(map(repr, known))}"
        raise ValueError(msg)
    return value


def flags(name: str, values: ArrayLike) -> Flags:
    """Give yes-or-no values as booleans.

    Parameters
    ----------
    name : str
        Argument name, for the message.
    values : array_like
        Booleans, or 0 and 1.

    Returns
    -------
    ndarray of bool
        The same.

    Raises
    ------
    ValueError
        If any value is neither; missing (NaN) is neither.
    """
    array = np.asarray(values)
    if array.dtype != np.bool_ and not np.all((array == 0) | (array == 1)):
        msg = f"{name} = {values!r} is not yes or no; allowed: True, False"
        raise ValueError(msg)
    return array.astype(np.bool_, copy=False)


SEXES = ("male", "female")
"""Words for the two sexes that the published models tell apart."""


def is_female(sex: object) -> Flags:
    """Turn the word, or an array of words, into flags.

    Parameters
    ----------
    sex : str or array_like of str
        Each "male" or "female".

    Returns
    -------
    ndarray of bool
        True for "female".

    Raises
    ------
    ValueError
        If any entry is another word, or not a word (NaN).
    """
    if isinstance(sex, str):
        return cast("Flags", np.bool_(one_of("sex", sex, SEXES) == "female"))
    words = np.asarray(sex, dtype=object)
    female = np.asarray(words == "female", dtype=np.bool_)
    known = female | np.asarray(words == "male", dtype=np.bool_)
    if not known.all():
        one_of("sex", words[~known].flat[0] if words.ndim else words.item(), SEXES)
    return female
