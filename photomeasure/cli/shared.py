"""The options that every photo command takes, gathered into one object."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any

import click

from photomeasure.answers.options import EVERY_PRINT, PhotoOptions
from photomeasure.cli.params import BAR, BarOption, json_option
from photomeasure.scene import BarReading

__all__ = ["PhotoArguments", "photo_command"]


@dataclass(frozen=True, slots=True)
class PhotoArguments:
    """What a photo command was given."""

    photos: tuple[Path, ...]
    as_json: bool
    out: Path | None
    camera: Path | None
    options: PhotoOptions


def _bars(bar_x: Iterable[BarOption], bar_y: Iterable[BarOption]) -> dict[str, BarReading]:
    x = {bar.kind or EVERY_PRINT: bar.mm for bar in bar_x}
    y = {bar.kind or EVERY_PRINT: bar.mm for bar in bar_y}
    return {kind: BarReading(x.get(kind), y.get(kind)) for kind in sorted(x.keys() | y.keys())}


_DECORATORS = (
    click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path)),
    json_option,
    click.option("--out", type=click.Path(path_type=Path), help="Folder for annotated pictures."),
    click.option("--bar-x", type=BAR, multiple=True, help="Check bar across, as measured."),
    click.option("--bar-y", type=BAR, multiple=True, help="Check bar up, as measured."),
    click.option("--camera", type=click.Path(path_type=Path), help="The phone's lens profile."),
)


def photo_command(function: Callable[..., None]) -> Callable[..., None]:
    """Add the shared options; the command gets them as `given`.

    Parameters
    ----------
    function : callable

    Returns
    -------
    callable
    """

    @wraps(function)
    def wrapper(  # noqa: PLR0913  # click hands over one argument for every option
        *,
        photos: tuple[Path, ...],
        as_json: bool,
        out: Path | None,
        bar_x: tuple[BarOption, ...],
        bar_y: tuple[BarOption, ...],
        camera: Path | None,
        **own: Any,
    ) -> None:
        options = PhotoOptions(_bars(bar_x, bar_y))
        function(given=PhotoArguments(photos, as_json, out, camera, options), **own)

    decorated: Callable[..., None] = wrapper
    for decorate in reversed(_DECORATORS):
        decorated = decorate(decorated)
    return decorated
