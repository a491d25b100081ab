"""Named tuples that are quick to define.

``typing.NamedTuple`` compiles the text of every annotation while a module is imported, and makes
half a dozen functions for each class: for all of cfglint's records together that takes longer
than the interpreter needs to start.  This one makes the constructor and nothing else; what
instances can do, and how fast, is the same.  To type checkers it *is* ``typing.NamedTuple``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple  # noqa: PLC0414  (the alias exports it)
else:
    try:
        from _collections import _tuplegetter as _getter
    except ImportError:  # another interpreter
        from operator import itemgetter

        def _getter(place, doc):
            return property(itemgetter(place), doc=doc)

    class _Record(tuple):
        """What all records share."""

        __slots__ = ()

        @classmethod
        def _make(cls, values):
            return cls(*values)

        def _replace(self, **named):
            values = [named.pop(name, old) for name, old in zip(self._fields, self, strict=True)]
            if named:
                raise ValueError(f"{type(self).__name__} has no field {', '.join(named)}")
            return type(self)(*values)

        def _asdict(self):
            return dict(zip(self._fields, self, strict=True))

        def __repr__(self):
            pairs = (f"{name}={value!r}" for name, value in self._asdict().items())
            return f"{type(self).__name__}({', '.join(pairs)})"

        def __getnewargs__(self):
            return tuple(self)

    def _constructor(fields, defaults):
        """``__new__`` of a record, as quick to call as one that is written out."""
        words = ", ".join(fields)
        make = eval(
            f"lambda _cls, {words}: _new(_cls, ({words}{',' if fields else ''}))",
            {"_new": tuple.__new__, "__name__": __name__},
        )
        make.__name__ = "__new__"
        make.__defaults__ = tuple(defaults.values())
        return make

    class _Maker(type):
        def __new__(mcs, name, bases, space):
            if not bases:
                return super().__new__(mcs, name, bases, space)
            fields = tuple(space.get("__annotations__", ()))
            defaults = {field: space[field] for field in fields if field in space}
            if list(defaults) != list(fields[len(fields) - len(defaults) :]):
                raise TypeError(f"{name}: a field without a default after one with a default")
            made = []

            def first(cls, *values, **named):
                # Most records of most runs are never made: the constructor waits for the first.
                make = _constructor(fields, defaults)
                make.__qualname__ = f"{made[0].__qualname__}.__new__"
                made[0].__new__ = staticmethod(make)
                return make(cls, *values, **named)

            for place, field in enumerate(fields):
                space[field] = _getter(place, f"Alias for field number {place}")
            space.update(
                __slots__=(),
                __new__=first,
                __match_args__=fields,
                _fields=fields,
                _field_defaults=defaults,
            )
            # A plain class, as typing's are: it may be mixed with any other.
            made.append(type.__new__(type, name, (_Record,), space))
            return made[0]

    class NamedTuple(metaclass=_Maker):
        """As ``typing.NamedTuple``: annotations name the fields, in order."""
