"""Strict models and times of data points, and the first thing that a model finds wrong."""

from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from gramrise.connectors.standards import Hold, Instant, rfc3339_time

M = TypeVar("M", bound="Strict")


class Strict(BaseModel):
    """A part of a data point. Further members are legal there, and are not read."""

    model_config = ConfigDict(frozen=True, strict=True, extra="ignore")


def _number(value: object) -> Decimal:
    if isinstance(value, Decimal):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Decimal(value)
    raise PydanticCustomError("not_a_number", "this is no JSON number")


Number = Annotated[Decimal, BeforeValidator(_number)]
StrictText = Annotated[str, Field(min_length=1)]


class UnitValue(Strict):
    value: Number
    unit: StrictText


def modelled(model: type[M], raw: object, where: str) -> M:
    """A part as its model. Raises Hold naming the member that is wrong."""
    try:
        return model.model_validate(raw)
    except ValidationError as problem:
        first: Any = problem.errors(include_url=False, include_input=False)[0]
        path = ".".join(str(part) for part in (where, *first["loc"]))
        raise Hold("not_the_standard", path[:80], first["msg"]) from problem


def read_time(text: object, column: str) -> Instant:
    """An RFC 3339 date-time. Raises Hold: without a zone it may be any of many instants."""
    if not isinstance(text, str):
        raise Hold("not_a_time", column, text)
    try:
        return rfc3339_time(text)
    except ValueError as problem:
        try:
            rfc3339_time(text + "Z")
        except ValueError:
            raise Hold("not_a_time", column, text) from problem
        raise Hold("no_zone", column, text) from problem
