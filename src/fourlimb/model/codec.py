"""Objects to JSON and back, exactly, with unknown fields kept.

Every structure of the model has an `extra` mapping. Reading puts fields that this version does not know there, at
whatever depth they stand; writing puts them back beside the known ones. Fractions are text ("3/16").
The same objects give the same bytes: fields in declared order, then extras sorted by name.
"""

import types
from fractions import Fraction
from functools import lru_cache
from typing import Any, TypeVar, Union, get_args, get_origin

import msgspec

from .errors import InputError

T = TypeVar("T")


def encode(value: object) -> bytes:
    """Compact UTF-8 JSON of a model object. Raises ValueError on a number that JSON cannot hold (NaN, infinity)."""
    return msgspec.json.encode(to_plain(value))


def pretty(value: object) -> bytes:
    """The same, indented for people and ending in a newline."""
    return msgspec.json.format(encode(value), indent=1) + b"\n"


def decode(data: bytes | str, kind: type[T], *, where: str = "the file") -> T:
    """A model object from JSON. Raises InputError, one line, naming the place in the file that is wrong."""
    try:
        return from_plain(msgspec.json.decode(data), kind, where=where)
    except (msgspec.DecodeError, RecursionError, UnicodeDecodeError) as error:
        raise InputError(f"{where} is not readable as JSON ({error}): restore the last good copy") from None


def from_plain(raw: object, kind: type[T], *, where: str = "the file") -> T:
    """A model object from plain dicts and lists."""
    try:
        return msgspec.convert(_fold(raw, kind), kind, dec_hook=_read_fraction)
    except msgspec.ValidationError as error:
        raise InputError(f"{where} does not fit its schema: {error}") from None


def to_plain(value: object) -> Any:
    """Plain dicts, lists, text and numbers, extras unfolded."""
    if isinstance(value, msgspec.Struct):
        return _struct_to_plain(value)
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, dict):
        return {key: to_plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, float) and not -1e300 < value < 1e300:
        raise ValueError(f"{value} cannot be written as JSON")
    return value


def _struct_to_plain(value: msgspec.Struct) -> dict[str, Any]:
    plain = {written: to_plain(getattr(value, name)) for name, written in _names(type(value))}
    extra: dict[str, object] = getattr(value, "extra", {})
    for name in sorted(extra):
        plain.setdefault(name, extra[name])
    return plain


def _read_fraction(kind: type, raw: object) -> object:
    if kind is Fraction:
        try:
            return Fraction(str(raw))
        except (ValueError, ZeroDivisionError):
            raise ValueError(f'"{raw}" is not a fraction like 3/16') from None
    return raw  # extras are kept as they are


@lru_cache(maxsize=256)
def _names(kind: type) -> tuple[tuple[str, str], ...]:
    """Each field as it is called in Python and in JSON, but for extras."""
    return tuple((f.name, f.encode_name) for f in msgspec.structs.fields(kind) if f.name != "extra")


@lru_cache(maxsize=256)
def _fields(kind: type) -> dict[str, Any]:
    return {f.encode_name: f.type for f in msgspec.structs.fields(kind) if f.name != "extra"}


def _fold(raw: object, kind: Any) -> object:
    """Move unknown keys of every structure under `raw` into its `extra`, following the declared types."""
    if isinstance(raw, dict):
        if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
            known = _fields(kind)
            folded: dict[str, object] = {k: _fold(v, known[k]) for k, v in raw.items() if k in known}
            unknown = {k: v for k, v in raw.items() if k not in known}
            if unknown and any(f.name == "extra" for f in msgspec.structs.fields(kind)):
                folded["extra"] = unknown
            return folded
        if get_origin(kind) is dict:
            return {k: _fold(v, get_args(kind)[1]) for k, v in raw.items()}
    if isinstance(raw, list) and get_origin(kind) in (list, tuple):
        return [_fold(item, get_args(kind)[0]) for item in raw]
    if get_origin(kind) in (Union, types.UnionType):
        for option in get_args(kind):
            if isinstance(option, type) and issubclass(option, msgspec.Struct) and isinstance(raw, dict):
                return _fold(raw, option)
    return raw
