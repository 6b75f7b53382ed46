"""A declared shape as JSON Schema, for programs that read what a report leaves."""

from types import NoneType, UnionType
from typing import (
    Literal,
    NotRequired,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

_PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean", NoneType: "null"}


def json_schema(kind):
    """A content's JSON Schema (draft 2020-12), made from its type.

    Parameters
    ----------
    kind : type
        ``SeasonGuide``, ``FrontNote`` or ``Briefing``.

    Returns
    -------
    dict
    """
    parts = {}
    schema = _schema_of(kind, parts)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": kind.__name__,
        **schema,
        "$defs": dict(sorted(parts.items())),
    }


def _schema_of(kind, parts):
    if kind in _PLAIN:
        return {"type": _PLAIN[kind]}
    origin, inside = get_origin(kind), get_args(kind)
    if origin is Literal:
        return {"enum": list(inside)}
    if origin is NotRequired:
        return _schema_of(inside[0], parts)
    if origin in (Union, UnionType):
        return {"anyOf": [_schema_of(one, parts) for one in inside]}
    if origin is list:
        return {"type": "array", "items": _schema_of(inside[0], parts)}
    if origin is dict:
        return {"type": "object", "additionalProperties": _schema_of(inside[1], parts)}
    if not is_typeddict(kind):
        raise TypeError(f"no schema for {kind!r}")
    if kind.__name__ not in parts:
        parts[kind.__name__] = {}
        parts[kind.__name__].update(
            {
                "type": "object",
                "description": (kind.__doc__ or "").partition("\n")[0],
                "properties": {
                    name: _schema_of(hint, parts) for name, hint in get_type_hints(kind).items()
                },
                "required": sorted(kind.__required_keys__),
                "additionalProperties": False,
            }
        )
    return {"$ref": f"#/$defs/{kind.__name__}"}
