"""Rules of FHIR JSON that hold anywhere in a resource, and the first thing that a model finds wrong with one."""

from typing import Any, TypeVar

from pydantic import ValidationError

from gramrise.connectors.fhir.elements import Read
from gramrise.connectors.standards import Hold

M = TypeVar("M", bound=Read)


def modelled(model: type[M], raw: dict[str, Any]) -> M:
    """A resource as its model. Raises Hold: not of the standard, or changed by an extension that is not known."""
    _check_inside(raw, "")
    try:
        return model.model_validate(raw)
    except ValidationError as problem:
        first = problem.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or str(raw.get("resourceType", ""))
        raise Hold("not_the_standard", where[:80], first["msg"]) from problem


def _check_inside(raw: dict[str, Any], where: str) -> None:
    """No empty array, object or null, and nothing that changes the meaning of the whole."""
    stack: list[tuple[str, Any]] = [(where, raw)]
    while stack:
        name, value = stack.pop()
        if isinstance(value, dict):
            if not value:
                raise Hold("not_the_standard", name, "an empty object")
            if "modifierExtension" in value or "implicitRules" in value:
                raise Hold("unknown_modifier", name or "modifierExtension")
            stack += value.items()
        elif isinstance(value, list):
            if not value:
                raise Hold("not_the_standard", name, "an empty array")
            stack += [(name, inner) for inner in value if inner is not None]
        elif value is None:
            raise Hold("not_the_standard", name, "null")
