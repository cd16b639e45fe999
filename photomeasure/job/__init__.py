"""The job as a folder on disk, its plan and its printable sheet."""

from photomeasure.job.folder import (
    add_answer,
    add_photo,
    create_job,
    open_job,
    save_job,
    shelf_of,
)
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan, plan_cut
from photomeasure.job.sheet import write_job_sheet

__all__ = [
    "CutPlan",
    "Job",
    "add_answer",
    "add_photo",
    "create_job",
    "open_job",
    "plan_cut",
    "save_job",
    "shelf_of",
    "write_job_sheet",
]
