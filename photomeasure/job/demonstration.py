"""The whole job on the sample images: the same rooms as `fitting`, `route`, `cut`, `jobsheet`."""

import contextlib
import json
import shutil
from dataclasses import dataclass
from pathlib import Path

from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import EVERY_PRINT, PhotoOptions
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.errors import BadJobError, MissingFileError
from photomeasure.job.demo_entries import enter_demo
from photomeasure.job.folder import add_answer, add_photo, create_job
from photomeasure.job.model import JOB_FILE, Job
from photomeasure.job.plan import CutPlan, plan_cut
from photomeasure.job.sheet import write_job_sheet
from photomeasure.photo import Photo, load_photo
from photomeasure.route.reading import FlatOptions, LineKind
from photomeasure.scene import BarReading

__all__ = ["SAMPLES", "Demonstration", "Sample", "run_demo", "samples"]

SAMPLES = Path(__file__).parents[2] / "sample_images"
SHEET_FILE = "jobsheet.pdf"
NOTE = "rendered, not photographed"
_MARK = "demonstration"  # in the job's file: this folder may be written over
_PARTS = ("answers", "photos", "pictures")


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample image and what a person would say with it: bar readings, what the line is."""

    photo: Path
    bars: BarReading
    line: LineKind = "tape"


@dataclass(frozen=True, slots=True, eq=False)
class Demonstration:
    """What the demonstration found."""

    job: Job
    fittings: tuple[FittingAnswer, ...]
    route: RouteAnswer
    plan: CutPlan
    sheet: Path


def samples(kind: str, folder: Path = SAMPLES) -> tuple[Sample, ...]:
    """List the sample images of one kind, by name.

    Parameters
    ----------
    kind : str
        `fitting` or `route`.
    folder : Path

    Returns
    -------
    tuple of Sample

    Raises
    ------
    MissingFileError
        If the folder is not there or holds none.
    """
    found = []
    for notes in sorted(folder.glob(f"{kind}*.json")):
        photo = notes.with_suffix(".jpg")
        data = json.loads(notes.read_text(encoding="utf-8"))
        read = data["print"]["bars"]
        if photo.exists():
            bars = BarReading(read["x_read_mm"], read["y_read_mm"])
            found.append(Sample(photo, bars, data["truth"].get("line", "tape")))
    if not found:
        raise MissingFileError(
            f"There are no sample images of a {kind} in {folder}.",
            "Run the demo from a checkout of the project: the images are not in the package.",
        )
    return tuple(found)


def run_demo(folder: Path) -> Demonstration:
    """Measure the sample images, plan the hose, and write job folder and job sheet.

    Parameters
    ----------
    folder : Path
        New, or with an older demonstration in it, which is replaced.

    Returns
    -------
    Demonstration

    Raises
    ------
    MissingFileError
        If the sample images are not there.
    BadJobError
        If the folder holds another job, or cannot be written to.
    """
    two, line = samples("fitting")[:2], samples("route")[0]
    _clear(folder)
    job = create_job(folder, "Demonstration").changed(**{_MARK: True})
    answers = []
    for end, sample in enumerate(two):
        photo, job = _taken(job, sample)
        answer = fitting([photo], _options(sample))
        picture = fitting_picture(photo, answer)
        job = add_answer(job, "fitting", answer.as_json(), picture, end=end)
        answers.append(answer)
    photo, job = _taken(job, line)
    laid = route([photo], _options(line), FlatOptions(line=line.line))
    job = add_answer(job, "route", laid.as_json(), route_picture(photo, laid))
    job = enter_demo(job)
    plan = plan_cut(job)
    write_job_sheet(job, plan, folder / SHEET_FILE)
    return Demonstration(job, tuple(answers), laid, plan, folder / SHEET_FILE)


def _taken(job: Job, sample: Sample) -> tuple[Photo, Job]:
    data = sample.photo.read_bytes()
    photo = load_photo(data, sample.photo.name)
    return photo, add_photo(job, sample.photo.name, data, rendered=True, note=NOTE)


def _options(sample: Sample) -> PhotoOptions:
    return PhotoOptions({EVERY_PRINT: sample.bars})


def _clear(folder: Path) -> None:
    """Take an older demonstration away; any other job stays, and is refused by `create_job`."""
    file = folder / JOB_FILE
    if not file.exists():
        return
    try:
        is_ours = json.loads(file.read_text(encoding="utf-8")).get(_MARK) is True
    except (OSError, ValueError, AttributeError):
        is_ours = False
    if not is_ours:
        raise BadJobError(f"{folder} holds another job.", "Name a new folder for the demo.")
    for name in _PARTS:
        shutil.rmtree(folder / name, ignore_errors=True)
    for name in (SHEET_FILE, JOB_FILE):
        with contextlib.suppress(FileNotFoundError):
            (folder / name).unlink()
