"""How a key of the plan is described: once, for the validator, its messages and the reference."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import AllowInfNan, BaseModel, BeforeValidator, ConfigDict, Field, Strict
from pydantic.config import JsonDict

from simulator.plan_values import as_path, as_point

Number = Annotated[float, Strict(), AllowInfNan(allow_inf_nan=False)]
Switch = Annotated[bool, Strict()]
Text = Annotated[str, Strict()]
Whole = Annotated[int, Strict()]
FilePath = Annotated[Path, BeforeValidator(as_path)]
Point = Annotated[tuple[float, float], BeforeValidator(as_point)]


def described(
    meaning: str,
    *,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    why: str = "",
    example: str = "",
) -> Any:  # noqa: ANN401 - as pydantic.Field, which stands for a value of any type
    """Describe a key once: for the validator, for its messages and for the printed reference.

    Parameters
    ----------
    meaning : str
        One sentence, printed in the reference.
    unit : str
        Unit of the number, if it has one.
    low, high : float, optional
        Least and greatest value, both allowed; plausibility only, not a model's validity.
    why : str
        Reason for the bounds.
    example : str
        A value in TOML, for a key without default.

    Returns
    -------
    pydantic.fields.FieldInfo
        To stand in an annotation.
    """
    notes: JsonDict = {"unit": unit, "why": why, "example": example}
    return Field(description=meaning, ge=low, le=high, json_schema_extra=notes)


class Part(BaseModel):
    """A table of the plan; cannot be changed after it is made, and takes no unknown key."""

    model_config = ConfigDict(frozen=True, extra="forbid")
