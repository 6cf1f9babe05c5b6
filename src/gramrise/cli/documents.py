"""What programs can read: one JSON document a command, its keys taken from the frame contracts."""

import json
import re
from datetime import date, datetime
from functools import cache
from typing import Any, Final

import polars as pl
from pydantic import BaseModel, ConfigDict, Field, create_model

from gramrise import __version__
from gramrise.domain import frames
from gramrise.domain.frames import FrameContract
from gramrise.domain.problems import WrongUse

# Marks that steer a terminal and that JSON does not escape by itself: C1 controls, marks of direction, half characters.
_STEERING: Final = re.compile("[\\x7f-\\x9f\\u200b\\u200e\\u200f\\u2028-\\u202e\\u2060-\\u206f\\ufeff\\ud800-\\udfff]")
# Key of the document: column of the frame. Times carry their clock in the key, amounts their unit.
KEYS: Final[dict[str, tuple[FrameContract, dict[str, str]]]] = {
    "readings": (
        frames.READINGS,
        {"person": "person_id", "time_utc": "at_utc", "glucose_mg_dl": "glucose_mg_dl", "range": "range"},
    ),
    "lows": (
        frames.LOWS,
        {"person": "person_id"} | {name: name for name in frames.LOWS.schema if name != "person_id"},
    ),
    "treatments": (
        frames.TREATMENTS_NOTICED,
        {"person": "person_id"} | {name: name for name in frames.TREATMENTS_NOTICED.schema if name != "person_id"},
    ),
    "pairings": (
        frames.PAIRINGS,
        {"person": "person_id"} | {name: name for name in frames.PAIRINGS.schema if name != "person_id"},
    ),
    "factors": (
        frames.FACTORS,
        {"person": "person_id", "as_of": "as_of_utc"}
        | {name: name for name in frames.FACTORS.schema if name not in {"person_id", "as_of_utc"}},
    ),
    "predictions": (
        frames.PREDICTIONS,
        {"person": "person_id"} | {name: name for name in frames.PREDICTIONS.schema if name != "person_id"},
    ),
    "courses": (
        frames.COURSES,
        {"person": "person_id"} | {name: name for name in frames.COURSES.schema if name != "person_id"},
    ),
}
NEVER_NULL: Final = {"person_id", "at_utc", "start_utc", "band", "as_of_utc"}  # and what a frame is ordered by


def document(name: str, frame: pl.DataFrame) -> str:
    """One JSON document: {"gramrise": version, NAME: [rows]}; times in UTC with Z, missing values null."""
    _, keys = KEYS[name]
    rows = frame.select(pl.col(column).alias(key) for key, column in keys.items()).to_dicts()
    return written({name: rows})


def written(content: dict[str, Any]) -> str:
    """Any document as text: indented, UTF-8 kept, no NaN."""
    told = json.dumps(
        {"gramrise": __version__, **content}, default=_plain, ensure_ascii=False, indent=1, allow_nan=False
    )
    return _STEERING.sub(lambda mark: f"\\u{ord(mark.group()):04x}", told)


def schema(name: str) -> str:
    """The JSON schema of a document by its name. Raises WrongUse listing the names."""
    return json.dumps(_model(name).model_json_schema(by_alias=True), ensure_ascii=False, indent=1)


def schema_names() -> list[str]:
    return [*KEYS, *_other_models()]


@cache
def _model(name: str) -> type[BaseModel]:
    if name in _other_models():
        return _other_models()[name]
    if name not in KEYS:
        raise WrongUse(f"no document is called '{name}'", f"one of: {', '.join(schema_names())}")
    contract, keys = KEYS[name]
    meaning = {column.name: column for column in contract.columns}
    row_fields: dict[str, Any] = {
        f"{key}_": (
            _python_type(meaning[column].dtype, column, contract),
            Field(alias=key, description=meaning[column].meaning),
        )
        for key, column in keys.items()
    }
    row = create_model(f"{name}_row", __config__=ConfigDict(extra="forbid"), **row_fields)
    document_fields: dict[str, Any] = {
        "gramrise": (str, Field(description="version of the program")),
        name: (list[row], Field(description=f"rows in order of {', '.join(contract.order)}")),
    }
    return create_model(name, __config__=ConfigDict(extra="forbid"), **document_fields)


def _other_models() -> dict[str, type[BaseModel]]:
    from gramrise.cli.count_documents import CountsDocument
    from gramrise.cli.reference_documents import ReferencesDocument
    from gramrise.report import CardView, WeeklyView

    return {"report": WeeklyView, "card": CardView, "counts": CountsDocument, "references": ReferencesDocument}


def _python_type(dtype: pl.DataType, column: str, contract: FrameContract) -> Any:
    kind: Any = {pl.Float64: float, pl.Int32: int, pl.Boolean: bool, pl.String: str, pl.Date: date}.get(type(dtype))
    if isinstance(dtype, pl.List):
        return list[str]
    if kind is None:
        kind = datetime
    return kind if column in NEVER_NULL or column in contract.order else kind | None


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"no plain form for {type(value).__name__}")
