"""Reading of the tables in `data`: one CSV a standard, one row a size."""

import csv
from collections.abc import Callable, Mapping
from importlib.resources import files
from typing import Literal, TypeVar, cast

from photomeasure.errors import TableError

__all__ = ["Checked", "checked", "read_table"]

Checked = Literal["read", "formula", "second source", "memory"]
Row = TypeVar("Row")


def read_table(table: str, build: Callable[[Mapping[str, str]], Row]) -> tuple[Row, ...]:
    """Read one table, each row through `build`.

    Parameters
    ----------
    table : str
        Name of the file in `data`, without its ending.
    build : callable
        Makes one row's object from its columns; refuses nonsense with a `ValueError`.

    Returns
    -------
    tuple

    Raises
    ------
    TableError
        At the first bad row, with file and line.
    """
    path = files(__package__).joinpath("data", f"{table}.csv")
    built = []
    lines = csv.DictReader(path.read_text("utf-8").splitlines(), strict=True)
    for number, row in enumerate(lines, start=2):
        try:
            checked(row)
            built.append(build(row))
        except (KeyError, TypeError, ValueError) as error:
            raise TableError(f"{table}.csv, line {number}: {error}.", "Mend the row.") from error
    return tuple(built)


def checked(row: Mapping[str, str]) -> Checked:
    """How a row was checked; a row without source or check is refused."""
    if not row["source"].strip():
        raise ValueError("no source")
    if row["checked"] not in {"read", "formula", "second source", "memory"}:
        raise ValueError(f"checked is '{row['checked']}'")
    return cast(Checked, row["checked"])
