"""The entries of the demonstration: all invented, and said to be so.

An orchard's narrow tractor gets the power-steering pump of a scrapped forklift. Threads and route
are not among the entries: they come from measured answers. The walk along the hose's path through
the full movement is left open on purpose, so that the sheet shows what an open check looks like.
"""

import csv
import io
import json
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from photomeasure.job.folder import SHELF_FILE, save_job
from photomeasure.job.model import Job
from photomeasure.job.store import write_atomically
from photomeasure.sizing.ports import join
from photomeasure.sizing.shelf import Adapter

__all__ = ["enter_demo"]

_STUD_LENGTH_MM = 11.0  # invented, like everything here
_PRICE = 6.5


def enter_demo(job: Job) -> Job:
    """Fill a job with the invented entries, keep its answers, and save it.

    Parameters
    ----------
    job : Job
        With a folder, and with the answers of both fittings and of the route stored.

    Returns
    -------
    Job
    """
    entries: dict[str, Any] = json.loads(
        files(__package__).joinpath("data", "demo.json").read_text("utf-8")
    )
    ends = _merged(entries.pop("ends"), job.document.get("ends", []))
    filled = job.changed(**entries, ends=ends)
    save_job(filled)
    _fill_shelf(filled)
    return filled


def _merged(
    invented: list[dict[str, Any]], present: list[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Put what the job knows of its ends over the invented entries."""
    known = [*present, {}, {}][: len(invented)]
    return [{**entry, **own} for entry, own in zip(invented, known, strict=True)]


def _fill_shelf(job: Job) -> None:
    """Put the adapters of the plan on the shelf, with invented stud lengths and prices."""
    connection = join(job.entries)[0].connection
    if connection is None or job.folder is None:
        return
    rows = [_row(part) for chain in connection.chains for part in chain.adapters]
    if not rows:
        return
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    write_atomically(job.folder / SHELF_FILE, text.getvalue().encode())


def _row(part: Adapter) -> dict[str, Any]:
    faces = {
        f"{side}_{word}": value
        for side, face in (("a", part.a), ("b", part.b))
        for word, value in (("seat", face.seat), ("thread", face.thread), ("sex", face.sex))
    }
    return {
        "name": part.name,
        **faces,
        "form": part.form,
        "stud_length_mm": _STUD_LENGTH_MM,
        "price": _PRICE,
        "standard": part.standard,
        "source": "invented for the demonstration",
        "checked": "invented",
    }
