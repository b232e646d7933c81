"""What is made from what: study -> geometry -> port basis -> cases -> figures -> report.

Configuration: studies (paths of study files, default: the demo) and results (a folder).
"""

import os
import shlex
import sys
from pathlib import Path

from snakemake.utils import min_version

from pipeline.figures import FIGURE_GROUPS
from pipeline.workflow.plans import code_digest, plan_studies

min_version("9.0")

RESULTS = Path(config.get("results", "results"))
CACHE = RESULTS / ".solved"
PLANS = plan_studies([Path(p) for p in config.get("studies", ["models/studies/orchard_shed.yaml"])])
# Safe path: a folder named "models" where the user stands must not hide ours.
PYTHON = shlex.quote(sys.executable).replace("{", "{{").replace("}", "}}")
STAGE = f"{PYTHON} -P -m pipeline"


def variable(study):
    """Environment variable with the place of a study.

    Moved, it is still the same study; and braces in its place would pass for wildcards.
    """
    return f"BRAIDWISE_STUDY_{study.encode().hex()}"


for plan in PLANS.values():
    os.environ[variable(plan.name)] = str(plan.path)


wildcard_constraints:
    study="|".join(PLANS),
    digest="[0-9a-f]{16}",


localrules:
    all,


rule all:
    input:
        expand(RESULTS / "{study}" / "{page}", study=PLANS, page=["report.html", "limits.html"]),
        [RESULTS / "compared" / "compared.html"] if len(PLANS) > 1 else [],


for plan in PLANS.values():

    rule:
        name:
            f"geometry_{plan.name}"
        # The digest in the name says when a geometry is out of date, so the study is no input.
        output:
            expand(CACHE / "{digest}" / "request.json", digest=plan.own_digests),
        log:
            RESULTS / plan.name / "logs" / "geometry.log",
        params:
            study=variable(plan.name),
            cache=CACHE,
        shell:
            STAGE + ' geometry "${params.study}" {params.cache:q} > {log:q} 2>&1'


# A request is named by its content: written again beside a new one, it asks for nothing new.
rule basis:
    input:
        ancient(CACHE / "{digest}" / "request.json"),
    output:
        CACHE / "{digest}" / "basis.npz",
    log:
        CACHE / "{digest}" / "basis.log",
    benchmark:
        CACHE / "{digest}" / "basis.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=400,
        runtime=10,
    priority: 10
    shell:
        STAGE + " basis {input:q} > {log:q} 2>&1"


rule check:
    input:
        ancient(CACHE / "{digest}" / "request.json"),
    output:
        CACHE / "{digest}" / "refined.npz",
        CACHE / "{digest}" / "average_gain.npz",
    log:
        CACHE / "{digest}" / "check.log",
    benchmark:
        CACHE / "{digest}" / "check.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=400,
        runtime=10,
    shell:
        STAGE + " check {input:q} > {log:q} 2>&1"


rule combine:
    input:
        solves=lambda w: expand(
            CACHE / "{digest}" / "{part}",
            digest=PLANS[w.study].digests,
            part=["basis.npz", "refined.npz", "average_gain.npz"],
        ),
        made=lambda w: expand(
            CACHE / "{digest}" / "basis.npz", digest=PLANS[w.study].made_digests
        ),
    output:
        # A mark of its own: the demo's summary is in the repository, and in a fresh clone it
        # must not pass for a result of this run.
        touch(RESULTS / "{study}" / ".combined"),
    log:
        RESULTS / "{study}" / "logs" / "combine.log",
    benchmark:
        RESULTS / "{study}" / "logs" / "combine.benchmark.tsv"
    params:
        study=lambda w: variable(w.study),
        cache=CACHE,
        # Content of the study and of the measurements beside it.
        made_from=lambda w: PLANS[w.study].content,
        # Results of another version are out of date, though all their files are newer.
        made_with=code_digest(),
    threads: 1
    resources:
        mem_mb=500,
        runtime=10,
    shell:
        STAGE + ' combine "${params.study}" {params.cache:q} {output:q} > {log:q} 2>&1'


rule figures:
    input:
        RESULTS / "{study}" / ".combined",
    output:
        touch(RESULTS / "{study}" / "figures" / ".{group}.done"),
    log:
        RESULTS / "{study}" / "logs" / "figures_{group}.log",
    threads: 1
    resources:
        mem_mb=400,
        runtime=10,
    shell:
        STAGE + " figures {input:q} {wildcards.group} > {log:q} 2>&1"


rule report:
    input:
        combined=RESULTS / "{study}" / ".combined",
        figures=expand(
            RESULTS / "{{study}}" / "figures" / ".{group}.done", group=FIGURE_GROUPS
        ),
    output:
        RESULTS / "{study}" / "report.html",
        RESULTS / "{study}" / "limits.html",
    log:
        RESULTS / "{study}" / "logs" / "report.log",
    threads: 1
    shell:
        STAGE + " report {input.combined:q} > {log:q} 2>&1"


rule compared:
    input:
        expand(RESULTS / "{study}" / ".combined", study=PLANS),
    output:
        RESULTS / "compared" / "compared.html",
    log:
        RESULTS / "compared" / "logs" / "compared.log",
    threads: 1
    shell:
        STAGE + " compared {output:q} {input:q} > {log:q} 2>&1"
