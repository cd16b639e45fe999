"""Measured values to JSON and back, with their named sources, so that correlation survives."""

import math
from collections.abc import Iterable, Mapping
from typing import Any, cast, get_args

from photomeasure.errors import BadJobError
from photomeasure.quantities import Quantity, Scope, Source, components, measured

__all__ = [
    "Json",
    "budget_json",
    "components_json",
    "quantity_from_json",
    "quantity_json",
    "read_number",
    "shown",
    "sources_from_json",
    "sources_json",
]

Json = dict[str, Any]

LARGEST_RELATIVE_U = 0.1  # above it a value is no longer shown
LARGEST_ANGLE_U_DEG = 5.0


def shown(quantity: Quantity | None) -> Quantity | None:
    """Drop what is too uncertain to be of use.

    Parameters
    ----------
    quantity : Quantity or None [mm or deg]

    Returns
    -------
    Quantity or None
        None if u exceeds a tenth of the value, or 5 degrees.
    """
    if quantity is None or not math.isfinite(quantity.value) or not math.isfinite(quantity.u):
        return None
    limit = (
        LARGEST_ANGLE_U_DEG if quantity.unit == "deg" else LARGEST_RELATIVE_U * abs(quantity.value)
    )
    return quantity if quantity.u <= limit else None


def quantity_json(quantity: Quantity | None) -> Json | None:
    """Give the contract's form, or null."""
    return None if quantity is None else cast("Json", quantity.as_json())


def _ids(sources: Iterable[Source]) -> dict[Source, str]:
    """Name every source; the same id under two keys (two photos) is told apart by its key."""
    keys: dict[str, set[str]] = {}
    unique = sorted(set(sources), key=lambda source: (source.id, source.key))
    for source in unique:
        keys.setdefault(source.id, set()).add(source.key)
    return {
        source: source.id if len(keys[source.id]) == 1 else f"{source.id} @ {source.key}"
        for source in unique
    }


def _all_sources(quantities: Iterable[Quantity | None]) -> dict[Source, str]:
    return _ids(
        source
        for quantity in quantities
        if quantity is not None
        for source in components(quantity.number)
    )


def components_json(named: Mapping[str, Quantity | None]) -> Json:
    """Signed contribution of every source to every value that is shown.

    Parameters
    ----------
    named : mapping of str to Quantity or None

    Returns
    -------
    dict
        `{quantity: {source id: contribution}}`, each in its quantity's unit.
    """
    ids = _all_sources(named.values())
    return {
        name: {ids[source]: part for source, part in components(quantity.number).items()}
        for name, quantity in named.items()
        if quantity is not None
    }


def sources_json(named: Mapping[str, Quantity | None]) -> Json:
    """Say of every source id what it is and how far it reaches.

    Parameters
    ----------
    named : mapping of str to Quantity or None

    Returns
    -------
    dict
        `{source id: {"label", "scope", "key"}}`.
    """
    return {
        id_: {"label": source.label, "scope": source.scope, "key": source.key}
        for source, id_ in _all_sources(named.values()).items()
    }


def budget_json(primary: Quantity | None) -> list[Json]:
    """Share of each cause in the variance of one value, the largest first.

    Parameters
    ----------
    primary : Quantity or None

    Returns
    -------
    list of dict
        `[{"source": "axis height", "share": 0.71}, ...]`; a cause that was split (`sheet pose/1`,
        `/2` …) counts as one.
    """
    if primary is None:
        return []
    squares: dict[str, float] = {}
    for source, part in components(primary.number).items():
        cause = source.id.partition("/")[0]
        squares[cause] = squares.get(cause, 0.0) + part * part
    total = sum(squares.values())
    ranked = sorted(squares.items(), key=lambda item: (-item[1], item[0]))
    return [{"source": cause, "share": square / total} for cause, square in ranked if total > 0]


def sources_from_json(data: Mapping[str, Any]) -> dict[str, Source]:
    """Rebuild the named sources of a stored answer.

    Parameters
    ----------
    data : mapping
        The answer's JSON.

    Returns
    -------
    dict of str to Source
        By the id used in the answer's components.

    Raises
    ------
    BadJobError
        If a source is not what the contract says.
    """
    sources: dict[str, Source] = {}
    for id_, entry in _mapping(data.get("sources", {}), "sources").items():
        fields = _mapping(entry, f"source '{id_}'")
        label, scope, key = fields.get("label"), fields.get("scope"), fields.get("key")
        if not (isinstance(label, str) and isinstance(key, str) and scope in get_args(Scope)):
            raise _bad(f"source '{id_}' lacks its label, scope or key")
        own_id = id_.removesuffix(f" @ {key}")
        sources[id_] = Source(own_id, label, cast("Scope", scope), key)
    return sources


def quantity_from_json(
    name: str, entry: object, data: Mapping[str, Any], sources: Mapping[str, Source]
) -> Quantity | None:
    """Rebuild one stored value with the variables it shares with others.

    Parameters
    ----------
    name : str
        Its name in the answer's components.
    entry : object
        The contract's form of a quantity, or None.
    data : mapping
        The whole answer.
    sources : mapping of str to Source
        From `sources_from_json`.

    Returns
    -------
    Quantity or None

    Raises
    ------
    BadJobError
        If a figure is missing or no number, or its components do not make up its u.
    """
    if entry is None:
        return None
    fields = _mapping(entry, name)
    value, u, low, high = (read_number(fields, key, name) for key in ("value", "u", "low", "high"))
    unit = fields.get("unit")
    if not isinstance(unit, str):
        raise _bad(f"{name} has no unit")
    parts = _mapping(_mapping(data.get("components", {}), "components").get(name, {}), name)
    unknown = [id_ for id_ in parts if id_ not in sources]
    if unknown:
        raise _bad(f"{name} names the source '{unknown[0]}', which is not listed")
    number = measured(value, {sources[id_]: read_number(parts, id_, name) for id_ in parts})
    if not parts:
        number = measured(value, {Source(name, name, "answer", f"{name} {value!r}"): u})
    if not math.isclose(number.std_dev, u, rel_tol=0.01, abs_tol=1e-12):
        raise _bad(f"the components of {name} make u = {number.std_dev:.4g}, it says {u:.4g}")
    return Quantity(number, unit, low, high)


def read_number(fields: Mapping[str, Any], key: str, name: str) -> float:
    """Take one finite number out of stored data.

    Parameters
    ----------
    fields : mapping
    key : str
    name : str
        What it belongs to, for the message.

    Returns
    -------
    float [as stored]

    Raises
    ------
    BadJobError
        If it is missing or not a finite number.
    """
    value = fields.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise _bad(f"{name} has no number '{key}'")
    return float(value)


def _mapping(value: object, name: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise _bad(f"{name} is not what it should be")
    return value


def _bad(what: str) -> BadJobError:
    return BadJobError(
        f"The stored answer cannot be read: {what}.",
        "Measure the photo again and save the new answer.",
    )
