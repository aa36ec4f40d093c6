"""Puts a change into a package that is loaded already, so that tests which are collected already run on it.

A changed function gets its new code in place, so that all who imported it see the change. A changed constant
is replaced wherever it was imported. What can't be done in place raises `CanNot`.
"""

from __future__ import annotations

import sys
import types
from collections.abc import Iterator
from pathlib import Path

from study.mutants import Mutant


class CanNot(Exception):
    """A change that needs the package loaded anew."""


def swap(mutant: Mutant, source: bytes, path: Path) -> None:
    """Puts a change into the loaded package. source: of the module, without it. path: of the module."""
    name = "headland." + mutant.module.removesuffix(".py").replace("/", ".")
    module = sys.modules.get(name)
    if module is None:
        raise CanNot(name)
    changed = compile(mutant.applied(source), str(path), "exec")
    if mutant.where and mutant.where[0].islower() | (mutant.where[0] == "_" and "." not in mutant.where):
        _function(mutant, module, changed)
    elif mutant.where:
        _method(mutant, module, changed)
    else:
        _constants(module, changed)


def _codes(code: types.CodeType) -> Iterator[types.CodeType]:
    for one in code.co_consts:
        if isinstance(one, types.CodeType):
            yield one
            yield from _codes(one)


def _put(found: object, changed: types.CodeType) -> None:
    while hasattr(found, "cache_clear"):
        found.cache_clear()
        found = found.__wrapped__  # type: ignore[attr-defined]
    while hasattr(found, "__wrapped__"):
        found = found.__wrapped__
    if isinstance(found, property):
        found = found.fget
    if isinstance(found, staticmethod | classmethod):
        found = found.__func__
    if not isinstance(found, types.FunctionType):
        raise CanNot(str(found))
    new = [one for one in _codes(changed) if one.co_qualname == found.__code__.co_qualname]
    if len(new) != 1 or new[0].co_freevars != found.__code__.co_freevars:
        raise CanNot(found.__qualname__)
    if new[0] == found.__code__:
        raise CanNot("a default value")
    found.__code__ = new[0]


def _function(mutant: Mutant, module: types.ModuleType, changed: types.CodeType) -> None:
    found = vars(module).get(mutant.where.partition(".")[0])
    if isinstance(found, type):
        _method(mutant, module, changed)
    elif found is None:
        raise CanNot(mutant.where)
    else:
        _put(found, changed)


def _method(mutant: Mutant, module: types.ModuleType, changed: types.CodeType) -> None:
    owner, _, rest = mutant.where.partition(".")
    found = vars(module).get(owner)
    if not isinstance(found, type) or not rest or rest.partition(".")[0] not in vars(found):
        raise CanNot(mutant.where)
    inner = vars(found)[rest.partition(".")[0]]
    if hasattr(inner, "func") and not isinstance(inner, types.FunctionType):  # a cached property
        inner = inner.func
    _put(inner, changed)


def _defaults(function: types.FunctionType) -> str:
    return repr((function.__defaults__, function.__kwdefaults__))


def _constants(module: types.ModuleType, changed: types.CodeType) -> None:
    fresh = types.ModuleType(module.__name__)
    fresh.__dict__.update({"__file__": module.__file__, "__package__": module.__package__})
    kept = sys.modules[module.__name__]
    sys.modules[module.__name__] = fresh
    try:
        exec(changed, fresh.__dict__)
    finally:
        sys.modules[module.__name__] = kept
    done = False
    for name, new in list(vars(fresh).items()):
        old = vars(module).get(name)
        if isinstance(new, types.FunctionType) and isinstance(old, types.FunctionType):
            if old.__module__ == module.__name__ and _defaults(new) != _defaults(old):
                old.__defaults__, old.__kwdefaults__, done = new.__defaults__, new.__kwdefaults__, True
            continue
        if isinstance(new, types.ModuleType | type) or name.startswith("__") or repr(new) == repr(old):
            continue
        if callable(new) or "<function" in repr(new) or " at 0x" in repr(new):
            continue
        done = True
        for other in list(sys.modules.values()):
            words = getattr(other, "__dict__", {})
            if (
                other is not fresh
                and name in words
                and (words[name] is old or repr(words[name]) == repr(old))
            ):
                words[name] = new
    if not done:
        raise CanNot("nothing that can be replaced")
