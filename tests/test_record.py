"""Records behave as ``typing.NamedTuple`` (standard library) does, side by side."""

from __future__ import annotations

import copy
import importlib.util
import pickle
import sys
import typing
from types import ModuleType
from typing import Any

import pytest

from cfglint import record


class Ours(record.NamedTuple):
    """A place."""

    file: str
    line: int
    note: str = ""
    more: tuple[int, ...] = ()

    @property
    def double(self) -> int:
        return self.line * 2

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class Theirs(typing.NamedTuple):
    """A place."""

    file: str
    line: int
    note: str = ""
    more: tuple[int, ...] = ()

    @property
    def double(self) -> int:
        return self.line * 2

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class Empty(record.NamedTuple):
    """No fields at all."""


BOTH = pytest.mark.parametrize("kind", [Ours, Theirs])


@BOTH
def test_construction(kind: Any) -> None:
    assert kind("a", 1) == ("a", 1, "", ())
    assert kind("a", line=2, more=(3,)) == ("a", 2, "", (3,))
    for args, named in ((("a",), {}), (("a", 1, "", (), 5), {}), (("a", 1), {"x": 2})):
        with pytest.raises(TypeError, match=r"__new__\(\)"):
            kind(*args, **named)


@BOTH
def test_what_an_instance_can_do(kind: Any) -> None:
    one: Any = kind("a", 1)
    assert tuple in type(one).__mro__
    assert (one.file, one.line, one.note, one.double, str(one)) == ("a", 1, "", 2, "a:1")
    assert one._replace(line=5) == ("a", 5, "", ())
    assert type(one._replace(line=5)) is kind
    assert one._asdict() == {"file": "a", "line": 1, "note": "", "more": ()}
    assert repr(one) == f"{kind.__name__}(file='a', line=1, note='', more=())"
    assert kind._make(["a", 1, "", ()]) == one
    assert hash(one) == hash(("a", 1, "", ()))
    assert sorted([kind("b", 1), one]) == [one, kind("b", 1)]
    with pytest.raises(ValueError, match="x"):
        one._replace(x=1)
    with pytest.raises(AttributeError):
        one.line = 3
    with pytest.raises(AttributeError):
        one.extra = 3
    match one:
        case kind(file, line):
            assert (file, line) == ("a", 1)
        case _:
            raise AssertionError


@BOTH
def test_copies(kind: Any) -> None:
    one = kind("a", 1)
    for again in (copy.copy(one), copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        assert again == one
        assert type(again) is kind


@BOTH
def test_the_class(kind: Any) -> None:
    assert kind._fields == ("file", "line", "note", "more")
    assert kind._field_defaults == {"note": "", "more": ()}
    assert kind.__match_args__ == kind._fields
    assert kind.__doc__ == "A place."
    assert typing.get_type_hints(kind)["more"] == tuple[int, ...]
    assert type(kind) is type


def test_no_fields() -> None:
    assert Empty() == ()
    assert repr(Empty()) == "Empty()"


def test_order_of_defaults() -> None:
    with pytest.raises(TypeError, match="without a default after one with a default"):

        class Wrong(record.NamedTuple):
            a: int = 1
            b: int  # type: ignore[misc]


def test_an_interpreter_without_the_quick_getter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "_collections", ModuleType("_collections"))
    spec = importlib.util.spec_from_file_location("cfglint.record", record.__file__)
    assert spec is not None
    assert spec.loader is not None
    again: Any = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(again)
    kind = again.NamedTuple.__class__("Kind", (again.NamedTuple,), {"__annotations__": {"a": int}})
    one = kind(3)
    assert (one.a, one) == (3, (3,))
    with pytest.raises(AttributeError):
        one.a = 4
