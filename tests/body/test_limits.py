"""The check, the docstring and the documents are made from the same limits."""

from __future__ import annotations

import inspect
import types

import numpy as np
import pytest
from numpy.typing import ArrayLike

from simulator.arrays import Floats, in_chunks
from simulator.body import assumed, catalogue, drinking, energy, exposure, pace, warmth, water
from simulator.body import energy as food
from simulator.body import energy as metabolism
from simulator.body import pace as fits
from simulator.body import pace as people
from simulator.body import pace as slowing
from simulator.body import water as sweat
from simulator.body import water as sweating
from simulator.body.limits import (
    ALLOWED,
    Limit,
    describe,
    flags,
    floats,
    is_female,
    one_of,
    possible,
    published,
    unchecked,
)

MODULES: tuple[types.ModuleType, ...] = (
    assumed,
    drinking,
    energy,
    exposure,
    fits,
    food,
    warmth,
    warmth,
    metabolism,
    pace,
    people,
    slowing,
    sweat,
    sweating,
    water,
)


@pytest.mark.parametrize("name", sorted(ALLOWED))
def test_impossible_input_is_refused_with_name_value_and_range(name: str) -> None:
    allowed = ALLOWED[name]
    for wrong in (allowed.low - 1, allowed.high + 1, np.inf, -np.inf):
        with pytest.raises(ValueError, match=rf"^{name} = .*allowed: .*{allowed.high:.12g}"):
            possible(name, [allowed.low, wrong])


def test_missing_input_passes_and_words_do_not() -> None:
    assert np.isnan(possible("mass_kg", np.nan))
    with pytest.raises(ValueError, match="mass_kg = 'heavy' is not a number"):
        possible("mass_kg", "heavy")


def test_a_limit_says_itself_in_words() -> None:
    limits = (Limit("slope", -0.4, 0.45, "", "x"), Limit("result", -np.inf, 60, "degrees C", "y"))
    assert describe(limits) == "slope -0.4 to 0.45; result up to 60 degrees C"
    assert describe(()) == "none stated"
    assert str(Limit("age_y", 20, np.inf, "years", "z")) == "age_y from 20 years"


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_docstrings_carry_the_limits_that_are_checked(module: types.ModuleType) -> None:
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if name.startswith("_") or function.__module__ != module.__name__:
            continue
        text = inspect.getdoc(function) or ""
        assert "{limits}" not in text, name
        assert "Returns" in text, name


def test_docstring_of_the_graded_equation_names_its_range() -> None:
    text = inspect.getdoc(energy.lcda_w_kg) or ""
    assert describe(energy.LIMITS["lcda_2019"]) in text


@pytest.mark.parametrize("name", sorted(catalogue.MODELS))
def test_each_model_is_nan_beyond_each_of_its_limits_and_not_within(name: str) -> None:
    model = catalogue.MODELS[name]
    values, result = model.curve(1001)
    assert np.isfinite(result).any()
    for limit in model.limits:
        if limit.quantity == model.across:
            beyond = (values < limit.low) | (values > limit.high)
            assert np.isnan(result[beyond]).all()
    plain = [limit for limit in model.limits if limit.derive is None]
    if plain and all(limit.quantity in {model.across, *model.fixed} for limit in plain):
        inside = np.ones_like(values, dtype=bool)
        for limit in plain:
            at = values if limit.quantity == model.across else model.fixed[limit.quantity]
            inside &= (at >= limit.low) & (at <= limit.high)
        assert np.isfinite(result[inside]).all()


@pytest.mark.parametrize("name", sorted(catalogue.MODELS))
def test_each_model_gives_scalars_for_scalars_and_the_same_as_for_arrays(name: str) -> None:
    model = catalogue.MODELS[name]
    values, result = model.curve(7)
    for value, expected in zip(values, result, strict=True):
        single = model.function(**model.fixed, **{model.across: float(value)})
        assert type(single).__name__ == "float64"
        assert single == pytest.approx(float(expected), rel=1e-12, nan_ok=True)
    grid = model.function(**model.fixed, **{model.across: values.reshape(7, 1)})
    np.testing.assert_array_equal(grid[:, 0], result)


@pytest.mark.parametrize("name", sorted(catalogue.MODELS))
def test_each_model_keeps_missing_values_missing(name: str) -> None:
    model = catalogue.MODELS[name]
    assert np.isnan(model.function(**model.fixed, **{model.across: np.nan}))
    pair = model.function(**model.fixed, **{model.across: np.array([np.nan, model.span[1]])})
    assert np.isnan(pair[0])


@pytest.mark.parametrize("name", sorted(catalogue.MODELS))
def test_each_model_takes_an_empty_array(name: str) -> None:
    model = catalogue.MODELS[name]
    assert model.function(**model.fixed, **{model.across: np.empty(0)}).shape == (0,)


def test_a_missing_second_argument_is_never_turned_into_a_number() -> None:
    for name, model in catalogue.MODELS.items():
        for argument in model.fixed:
            values = {**model.fixed, argument: np.nan, model.across: model.span[1]}
            assert np.isnan(model.function(**values)), (name, argument)


def test_every_assumption_lies_within_its_own_range() -> None:
    for name, assumption in catalogue.ASSUMPTIONS.items():
        assert assumption.low <= assumption.middle <= assumption.high, name
        assert assumption.why


def test_unchecked_gives_the_bare_formula() -> None:
    bare = unchecked(pace.tobler_speed_m_s)
    slopes = np.linspace(-0.5, 0.5, 11)
    np.testing.assert_array_equal(bare(slopes), pace.tobler_speed_m_s(slopes))
    assert np.isfinite(bare(np.array(2.0)))  # beyond the limits: a number that means nothing


def test_a_joint_limit_is_checked_although_each_argument_is_fine() -> None:
    assert np.isfinite(energy.pandolf_w(80, 40, 1.3, 0.0))
    assert np.isfinite(energy.pandolf_w(40, 20, 1.3, 0.0))
    assert np.isnan(energy.pandolf_w(40, 40, 1.3, 0.0))


def test_a_wrong_call_is_a_type_error() -> None:
    with pytest.raises(TypeError):
        pace.tobler_speed_m_s(0.0, False, 3)  # type: ignore[call-arg] # noqa: FBT003
    with pytest.raises(TypeError):
        pace.tobler_speed_m_s()  # type: ignore[call-arg]


def test_a_model_without_limits_is_checked_all_the_same() -> None:
    @published()
    def doubled(mass_kg: ArrayLike) -> Floats:
        return 2 * floats(mass_kg)

    assert doubled(3.0) == 6.0
    with pytest.raises(ValueError, match="mass_kg = -3"):
        doubled(-3.0)


@pytest.mark.parametrize("wrong", [np.nan, None, "m", "Male", 1, ["male", np.nan], ["male", "x"]])
def test_sex_is_one_of_two_words(wrong: object) -> None:
    with pytest.raises(ValueError, match=r"sex = .*'male', 'female'"):
        is_female(wrong)


def test_sex_takes_arrays_of_words() -> None:
    assert is_female(["male", "female"]).tolist() == [False, True]
    assert is_female(np.array(["female"])).tolist() == [True]
    assert bool(is_female("female"))


def test_words_and_flags_are_checked() -> None:
    assert one_of("model", "lcda", ("lcda", "pandolf")) == "lcda"
    with pytest.raises(ValueError, match="model = 'lcd' is unknown; allowed: 'lcda', 'pandolf'"):
        one_of("model", "lcd", ("lcda", "pandolf"))
    assert flags("up", [0, 1]).tolist() == [False, True]
    for wrong in (np.nan, 2, [True, None]):
        with pytest.raises(ValueError, match="up = "):
            flags("up", wrong)  # type: ignore[arg-type]


def test_chunks_give_what_one_call_gives() -> None:
    slopes = np.linspace(-0.6, 0.6, 1001)
    for chunk, workers in ((1, 1), (7, 3), (1001, 1), (5000, 2)):
        found = in_chunks(pace.tobler_speed_m_s, slopes, chunk=chunk, workers=workers)
        np.testing.assert_array_equal(found, pace.tobler_speed_m_s(slopes))
    with pytest.raises(ValueError, match="slope = -11"):
        in_chunks(pace.tobler_speed_m_s, 11 * slopes / 0.6, chunk=100, workers=2)
    loads = np.linspace(0, 20, 1001)
    np.testing.assert_array_equal(
        in_chunks(energy.walking_w, 80, loads, 1.3, slopes, chunk=100, model="minetti"),
        energy.walking_w(80, loads, 1.3, slopes, model="minetti"),
    )


def test_chunks_of_a_grid_of_walkers_and_segments_give_what_one_call_gives() -> None:
    mass_kg, slopes = np.linspace(50, 100, 37)[:, None], np.linspace(-0.2, 0.2, 101)
    speed_m_s = np.linspace(0.8, 1.4, 37 * 101).reshape(37, 101)
    for columns in ((mass_kg, 5.0, speed_m_s, slopes), (mass_kg[:1], 5.0, speed_m_s, slopes[None])):
        for chunk in (1, 250, 10_000):
            np.testing.assert_array_equal(
                in_chunks(energy.walking_w, *columns, chunk=chunk), energy.walking_w(*columns)
            )


def test_chunks_refuse_arrays_that_cannot_be_cut_alike() -> None:
    with pytest.raises(ValueError, match="one length"):
        in_chunks(energy.lcda_w_kg, np.ones(3), np.zeros(4))
    with pytest.raises(ValueError, match="one length"):
        in_chunks(energy.lcda_w_kg, np.ones((3, 2)), np.zeros((3, 1, 2, 4)))
    with pytest.raises(ValueError, match="one length"):
        in_chunks(energy.lcda_w_kg, 1.0, 0.0)
