"""The post-processors that a job names: for each process, and for bevels."""

from __future__ import annotations

from cutplan.base.errors import JobError
from cutplan.planning.job import Job
from cutplan.process import CutData, Process
from cutplan.program import PostProcessor, find_postprocessor

__all__ = ["bevel_post_of", "postprocessor_of", "postprocessors_of"]


def postprocessor_of(data: CutData, job: Job) -> PostProcessor:
    """Return the post-processor that writes a job's programs for some cutting data."""
    return postprocessors_of(job)[data.process]


def postprocessors_of(job: Job) -> dict[Process, PostProcessor]:
    """Return the post-processors that a job names, by process."""
    folders = [job.folder / place for place in job.cutting.postprocessors]
    usual, flame = job.machine.postprocessor, job.machine.postprocessor_oxyfuel
    plasma = find_postprocessor(usual, folders)
    return {"plasma": plasma, "oxyfuel": find_postprocessor(flame, folders) if flame else plasma}


def bevel_post_of(job: Job) -> PostProcessor | None:
    """Return the post-processor of programs that bevel; None where the machine bevels nothing.

    Raises
    ------
    JobError
        If its file has no [bevel] table.
    """
    name = job.machine.postprocessor_bevels
    if name is None:
        return None
    post = find_postprocessor(name, [job.folder / place for place in job.cutting.postprocessors])
    if post.settings.bevel is None:
        raise JobError(
            f"post-processor {name!r} does not say how its torch leans",
            where=str(job.file),
            remedy="name one with a [bevel] table by postprocessor_bevels, as rs274-bevel-hand or rs274-bevel-head",
        )
    return post
