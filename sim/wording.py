"""What is wrong with a scenario's data, in the words of the file that holds it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, time
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MinLen
from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from sim.agreement import DisagreementError, KeyPath, advice
from sim.parts import Dates, School
from sim.scenario import Scenario
from sim.short_form import SHORT_KEYS
from sim.written import Said, Tree, Trouble, find, joined, leaves, shown, where

_UNLIMITED = ("count", "holds_heads", "keep_days")
_SUGAR: dict[Any, tuple[str, ...]] = {Scenario: ("base", *SHORT_KEYS), School: ("calendar",)}
_ALONE = "write the number alone; its unit is in the key's name"
_PLAIN: dict[Any, tuple[str, str]] = {
    int: ("a whole number", _ALONE),
    float: ("a number", _ALONE),
    str: ("text in quotes, 1 to 80 characters on one line", "put a name in quotes"),
    bool: ("true or false", "write it without quotes"),
    date: ("a date such as 2026-08-24", "write year-month-day without quotes"),
    time: ('a clock time such as "3:00 pm" or "15:00"', "add am or pm, or write four digits"),
}


def troubles(
    error: ValidationError, tree: Tree, file: Path, told: Collection[KeyPath] = ()
) -> list[Trouble]:
    """The problems that stop this tree from being a scenario, in its files' words.

    Keys that are `told` to be missing already are left out.
    """
    found: list[Trouble] = []
    for one in error.errors(include_url=False):
        path: KeyPath = tuple(one["loc"])
        cause = (one.get("ctx") or {}).get("error")
        if isinstance(cause, DisagreementError):
            for problem in cause.problems:
                found.append(_at(tree, problem.path, problem.told(), file))
        elif isinstance(cause, ValueError):
            found.append(_at(tree, path, str(cause), file))
        elif one["type"] == "missing":
            if path not in told:
                found.append(_at(tree, path, _missing(path), file))
        elif one["type"] == "extra_forbidden":
            found.append(_unknown_key(tree, path, file))
        elif path[-1:] == ("[key]",):
            found.append(_unknown_key(tree, path[:-1], file))
        else:
            found.append(_at(tree, path, _unfit(tree, path, one["input"]), file))
    return list(dict.fromkeys(found))


def _at(tree: Tree, path: KeyPath, text: str, file: Path) -> Trouble:
    source, key = where(tree, path, file)
    return Trouble(source, key, text)


def _missing(path: KeyPath) -> str:
    kind, limits = _bare(_kind(path))
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return f"is missing; add a table [{joined('', str(path[-1]))}]"
    if get_origin(kind) in (dict, tuple):
        return "is missing; add it" + (" as [[...]] tables" if get_origin(kind) is tuple else "")
    return f"is missing; add it, {_expected(kind, limits)}"


def _unknown_key(tree: Tree, path: KeyPath, file: Path) -> Trouble:
    """A key that the table does not have, with the nearest one that it has."""
    source, key = where(tree, path, file)
    holder, name = path[:-1], str(path[-1])
    kind, _ = _bare(_kind(holder))
    known: Collection[str] = []
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        known = [*kind.model_fields, *_SUGAR.get(kind, ())]
    elif get_origin(kind) is dict and get_origin(_bare(get_args(kind)[0])[0]) is Literal:
        known = get_args(_bare(get_args(kind)[0])[0])
    found = find(tree, path)
    first = next(leaves(found), None) if found is not None else None
    if not known:
        return Trouble(source, key, "must be a name of 1 to 80 characters on one line; rename it")
    value = f" (= {shown(found.value)})" if isinstance(found, Said) else ""
    text = f"is not a key known here{value}; {advice(name, known)}"
    return Trouble(first.file if first else source, key, text)


def _unfit(tree: Tree, path: KeyPath, value: Any) -> str:
    """A value of the wrong type, unit or size."""
    kind, limits = _bare(_kind(path))
    found = find(tree, path)
    written = found.value if isinstance(found, Said) else value
    no_limit = path[-1] in _UNLIMITED and _or_none(path)
    expected = _expected(kind, limits) + (' or "unlimited"' if no_limit else "")
    return f"must be {expected}, but it is {shown(written)}; {_remedy(kind, written)}"


def _expected(kind: Any, limits: list[Any]) -> str:
    """What a value of this kind is, in words, with its limits."""
    if get_origin(kind) is Literal:
        return "one of " + ", ".join(f'"{option}"' for option in get_args(kind))
    if kind in _PLAIN:
        return _PLAIN[kind][0] + (_range(limits) if kind in (int, float) else "")
    if kind is Dates:
        return "a date, or a table { first_day = 2026-11-25, last_day = 2026-11-27 }"
    by_name = get_args(_bare(get_args(kind)[0])[0]) if get_origin(kind) is dict else ()
    if by_name:
        return f"a table such as {{ {by_name[0]} = ... }}"
    at_least = next((f" of at least {m.min_length}" for m in limits if isinstance(m, MinLen)), "")
    return "a list" + at_least if get_origin(kind) is tuple else "a table"


def _range(limits: list[Any]) -> str:
    low = next((limit for limit in limits if isinstance(limit, (Ge, Gt))), None)
    high = next((limit for limit in limits if isinstance(limit, (Le, Lt))), None)
    if low is None or high is None:
        return ""
    bottom: Any = low.ge if isinstance(low, Ge) else low.gt
    top: Any = high.le if isinstance(high, Le) else high.lt
    start = "from" if isinstance(low, Ge) else "above"
    return f" {start} {bottom:,} to {top:,}"


def _remedy(kind: Any, value: object) -> str:
    """What to do about a value that does not fit."""
    if get_origin(kind) is Literal:
        return advice(value, get_args(kind)) if isinstance(value, str) else "choose one of them"
    if kind in (int, float) and isinstance(value, (int, float)) and not isinstance(value, bool):
        return "correct the number"
    if kind is date and isinstance(value, date):
        return "give a year from 1900 to 8999 and no clock time"
    if kind in _PLAIN:
        return _PLAIN[kind][1]
    if get_origin(kind) is tuple:
        return "put its entries in [ ], or write them as [[...]] tables"
    return "write its keys below a [...] heading, or in { }"


def _kind(path: KeyPath) -> Any:
    """The annotation that the model has at a key path; Any where it has none."""
    at: Any = Scenario
    for key in path:
        kind, _ = _bare(at)
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            field = kind.model_fields.get(str(key))
            at = Annotated[field.annotation, field] if field else Any
        elif get_origin(kind) is dict:
            at = get_args(kind)[1]
        elif get_origin(kind) is tuple:
            at = get_args(kind)[0]
        else:
            return Any
    return at


def _bare(kind: Any) -> tuple[Any, list[Any]]:
    """An annotation without its wrappings, and the limits found in them."""
    limits: list[Any] = []
    while True:
        if get_origin(kind) is Annotated:
            kind, *extra = get_args(kind)
            for one in extra:
                limits += one.metadata if isinstance(one, FieldInfo) else [one]
        elif get_origin(kind) in (Union, UnionType):
            kind = next(arm for arm in get_args(kind) if arm is not type(None))
        else:
            return kind, limits


def _or_none(path: KeyPath) -> bool:
    """Whether a key path may also be without a value."""
    kind = _kind(path)
    while get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    return type(None) in get_args(kind)
