"""`braidwise coax`: how much of the cable lies outside the antenna."""

from pipeline.commands.command import StudyWork, on_studies
from pipeline.report.findings import Findings
from pipeline.text.errors import Fault, StudyError


def _plan(path, study):
    length = sum(step.length for step in study.cable.route)
    if length < 1:
        raise StudyError(Fault(path.name, f"{length:g} m", "is too short", "1 m", "coax-short"))
    return length


def _run(job, work):
    files = {"coax.csv": [{"study": job.study.name, "length_m": job.plan}]}
    return Findings(f"{job.study.name}: {job.plan:g} m of cable", files, met=job.plan < 5)


COMMAND = on_studies("coax", "say how much cable there is", "", StudyWork(_plan, _run, "coax"))
