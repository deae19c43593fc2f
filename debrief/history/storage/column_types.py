"""The columns' types, strict: what comes out of the database is what this program writes, or is damage.

SQLite keeps any kind of value in any column, and a damaged file has any: text in a number, an infinity, nothing
where there must be something. Each value is looked at once, when its row is read. A number passes as it is: it costs
its row, which `values.sound_rows` leaves out as it does one that is too large.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect

from debrief.history.storage.damage import DamagedValue


class Strict(sa.types.TypeDecorator[Any]):
    """A column's type that raises `DamagedValue` for a value that is of another kind, but for numbers."""

    impl = sa.types.Text
    cache_ok = True
    coerce_to_is_types = (type(None), bool)

    def __init__(self, column: sa.Column[Any], nullable: bool = False) -> None:
        super().__init__()
        type_ = column.type
        self.impl = type_.impl_instance if isinstance(type_, Strict) else type_  # type: ignore[assignment]
        self.kind = kind_of(column)
        self.where = f"{column.table.name}.{column.name}"
        self.nullable = nullable or bool(column.nullable)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any]:
        """Return the function that each raw value goes through."""
        kind, where, nullable = self.kind, self.where, self.nullable

        def checked(value: Any) -> Any:
            if value is None and nullable:
                return None
            if kind != "number" and not fits(kind, value):
                raise DamagedValue(f"{where} holds what is no {kind}")
            return bool(value) if kind == "yes or no" else value

        return checked


def or_nothing(column: sa.Column[Any]) -> sa.Label[Any]:
    """Return a column of an outer join, which is None where the join finds no row."""
    return sa.type_coerce(column, Strict(column, nullable=True)).label(column.name)


def kind_of(column: sa.Column[Any]) -> str:
    """Return what a column holds, in words: text, whole number, number, yes or no."""
    type_ = column.type.impl_instance if isinstance(column.type, Strict) else column.type
    if isinstance(type_, sa.Boolean):
        return "yes or no"
    if isinstance(type_, sa.Integer):
        return "whole number"
    return "number" if isinstance(type_, sa.Double) else "text"


def fits(kind: str, value: object) -> bool:
    """Whether a raw value is of the kind."""
    if kind == "text":
        return type(value) is str
    if kind == "whole number":
        return type(value) is int
    if kind == "number":
        return type(value) is float and math.isfinite(value)
    return type(value) is bool or (type(value) is int and value in (0, 1))
