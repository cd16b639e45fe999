"""Public names are documented, with shape and unit where arrays or uncertain numbers pass."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

import photomeasure

NEEDS_SECTIONS = ("NDArray", "UFloat", "Points2", "Points3", "Vector", "Matrix")
# the pages run when they are imported; they export nothing
SKIPPED = ("photomeasure.pages", "photomeasure.__main__")


def _modules() -> list[ModuleType]:
    names = (info.name for info in pkgutil.walk_packages(photomeasure.__path__, "photomeasure."))
    return [importlib.import_module(name) for name in names if not name.startswith(SKIPPED)]


def _public() -> Iterator[tuple[str, Any]]:
    for module in _modules():
        for name in getattr(module, "__all__", []):
            thing = getattr(module, name)
            if getattr(thing, "__module__", None) == module.__name__:
                yield f"{module.__name__}.{name}", thing


PUBLIC = dict(_public())
FUNCTIONS = {name: thing for name, thing in PUBLIC.items() if inspect.isfunction(thing)}
CLASSES = {name: thing for name, thing in PUBLIC.items() if inspect.isclass(thing)}


def _passes_arrays(function: Callable[..., Any]) -> bool:
    signature = str(inspect.signature(function))
    return any(word in signature for word in NEEDS_SECTIONS) or "ndarray" in signature


def test_there_is_something_to_check() -> None:
    assert len(FUNCTIONS) > 60
    assert len(CLASSES) > 40


@pytest.mark.parametrize("module", _modules(), ids=lambda module: module.__name__)
def test_every_module_says_what_it_is(module: ModuleType) -> None:
    words = module.__doc__ or ""
    assert len(words) > 15
    assert "TODO" not in words


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_every_public_name_is_documented(name: str) -> None:
    if inspect.isfunction(PUBLIC[name]) or inspect.isclass(PUBLIC[name]):
        assert (inspect.getdoc(PUBLIC[name]) or "").strip().endswith((".", "…", "?", "]")) or (
            "\n" in (inspect.getdoc(PUBLIC[name]) or "")
        )


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_what_passes_arrays_names_them_in_order_with_shape_or_unit(name: str) -> None:
    function = FUNCTIONS[name]
    if not _passes_arrays(function):
        return
    words = inspect.getdoc(function) or ""
    if len(inspect.signature(function).parameters) == 1 and "(" in words.partition("\n")[0]:
        return  # one line that says the shape is enough for one argument
    assert "Parameters" in words, f"{name} has no section Parameters"
    assert "Returns" in words or "-> None" in str(inspect.signature(function))
    section = words.partition("Parameters")[2].partition("Returns")[0]
    places = [_place(section, parameter) for parameter in inspect.signature(function).parameters]
    assert -1 not in places, f"{name} leaves a parameter out"
    assert places == sorted(places), f"{name} has them in another order than its signature"
    assert "(" in words or "[" in words, f"{name} says neither shape nor unit"


def _place(section: str, parameter: str) -> int:
    """Where a parameter's line is in a section; several may share a line."""
    for line in section.splitlines():
        names = line.partition(":")[0].replace("*", "").split(",")
        if parameter in [name.strip() for name in names] and not line.startswith(" "):
            return section.index(line)
    return -1


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_frozen_values_stay_frozen(name: str) -> None:
    parameters = getattr(CLASSES[name], "__dataclass_params__", None)
    if parameters is not None:
        assert parameters.frozen, f"{name} can be changed after it was made"
