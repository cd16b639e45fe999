"""Jobs from one machine to another: as one file, or over the shop's own network."""

import os

import streamlit as st

from photomeasure.answers.address import qr_svg
from photomeasure.job import Job
from photomeasure.job.bundle import job_zip, unpack_job
from photomeasure.pages import _bench

__all__ = ["give_job_out", "show_address", "take_job_in"]


def give_job_out(job: Job) -> None:
    """Offer the job as one zip."""
    if job.folder is None:
        st.caption("Nothing is entered yet.")
        return
    st.download_button(
        "Save a copy of this job (zip)",
        lambda: job_zip(job),
        file_name=f"job-{job.folder.name}.zip",
        mime="application/zip",
        width="stretch",
        key="job.zip",
    )


def take_job_in() -> None:
    """Take a job in that was saved as a zip."""
    lid = st.expander("Take in a job from another machine (zip)", key="start.bundle")
    with lid, _bench.refusals():
        given = st.file_uploader(
            "The job's zip", type=["zip"], key="start.zip", max_upload_size=200
        )
        if given is not None and st.button("Take it in", key="start.take_in", width="stretch"):
            unpack_job(given.getvalue(), (job := _bench.start_job("Taken in")).folder)
            st.success(f"Taken in as job {job.folder.name if job.folder else ''}.")


def show_address() -> None:
    """Show the address for the phone, where the app was started for the shop's network."""
    address = os.environ.get("PHOTOMEASURE_ADDRESS", "")
    with st.expander("Use it from the phone"):
        if not address:
            st.markdown(
                "This app answers on this machine alone. Stop it and start it with "
                "`photomeasure app --share`: then the phone, on the same network, can open it."
            )
            return
        st.markdown(
            f"On the phone, on the same network, open **{address}** or point its camera "
            "here. Anybody on this network can."
        )
        st.image(qr_svg(address), width=260)
