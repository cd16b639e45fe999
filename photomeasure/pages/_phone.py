"""Jobs from one machine to another: as one file, or over the shop's own network."""

import os

import streamlit as st

from photomeasure.answers.address import qr_svg
from photomeasure.job import Job
from photomeasure.job.bundle import job_zip, unpack_job
from photomeasure.pages import _bench
from photomeasure.pages._words import say

__all__ = ["give_job_out", "show_address", "take_job_in"]


def give_job_out(job: Job) -> None:
    """Offer the job as one zip."""
    if job.folder is None:
        st.caption(say("job.nothing"))
        return
    st.download_button(
        say("job.copy"),
        lambda: job_zip(job),
        file_name=f"job-{job.folder.name}.zip",
        mime="application/zip",
        width="stretch",
        key="job.zip",
    )


def take_job_in() -> None:
    """Take a job in that was saved as a zip."""
    lid = st.expander(say("job.take_in"), key="start.bundle")
    with lid, _bench.refusals():
        given = st.file_uploader(say("job.zip"), type=["zip"], key="start.zip", max_upload_size=200)
        if given is not None and st.button(say("job.take"), key="start.take_in", width="stretch"):
            job = _bench.start_job(say("job.taken_name"))
            unpack_job(given.getvalue(), job.folder)
            st.success(say("job.taken", number=job.folder.name if job.folder else ""))


def show_address() -> None:
    """Show the address for the phone, where the app was started for the shop's network."""
    address = os.environ.get("PHOTOMEASURE_ADDRESS", "")
    with st.expander(say("phone.lid")):
        if not address:
            st.markdown(say("phone.alone"))
            return
        st.markdown(say("phone.address", address=address))
        st.image(qr_svg(address), width=260)
