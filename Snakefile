"""What is made from what: study -> answer -> figures and report.

Configuration: studies (paths of study files, default: the demo), results (a folder), and, where
they are not to be as each study has them, geometries, draws and most (cores in a set).
"""

import os
import shlex
import sys
from pathlib import Path

from snakemake.utils import min_version

from pipeline.workflow.plans import CHANGES, code_digest, plans_for

min_version("9.0")

RESULTS = Path(config.get("results", "results"))
CACHE = RESULTS / ".solved"
PLANS = plans_for([Path(p) for p in config.get("studies", ["models/studies/orchard_shed.yaml"])])
CHANGED = [int(config.get(name, 0)) for name in CHANGES]
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


localrules:
    all,


rule all:
    input:
        expand(RESULTS / "{study}" / "{page}", study=PLANS, page=["report.html", "limits.html"]),
        [RESULTS / "compared" / "compared.html"] if len(PLANS) > 1 else [],


# The stage solves on all cores it is given and keeps each solve by its content, so that it goes on
# from there wherever it is stopped; the store is no output that a failed job would lose. What is as
# described it tells as soon as it is known.
rule answer:
    output:
        # A mark of its own: the demo's summary is in the repository, and in a fresh clone it
        # must not pass for a result of this run.
        touch(RESULTS / "{study}" / ".answered"),
    log:
        RESULTS / "{study}" / "logs" / "answer.log",
    benchmark:
        RESULTS / "{study}" / "logs" / "answer.benchmark.tsv"
    params:
        study=lambda w: variable(w.study),
        cache=CACHE,
        changed=CHANGED,
        # Content of the study and of the files beside it.
        made_from=lambda w: PLANS[w.study].content,
        # Results of another version are out of date, though all their files are newer.
        made_with=code_digest(),
    threads: workflow.cores
    resources:
        mem_mb=lambda w: PLANS[w.study].memory_mb,
        runtime=60,
    shell:
        STAGE
        + ' answer "${params.study}" {params.cache:q} {output:q} {threads} {params.changed}'
        + " > {log:q} 2>&1"


rule pages:
    input:
        RESULTS / "{study}" / ".answered",
    output:
        RESULTS / "{study}" / "report.html",
        RESULTS / "{study}" / "limits.html",
    log:
        RESULTS / "{study}" / "logs" / "pages.log",
    threads: workflow.cores
    resources:
        mem_mb=400,
        runtime=10,
    shell:
        STAGE + " pages {input:q} {threads} > {log:q} 2>&1"


rule compared:
    input:
        expand(RESULTS / "{study}" / ".answered", study=PLANS),
    output:
        RESULTS / "compared" / "compared.html",
    log:
        RESULTS / "compared" / "logs" / "compared.log",
    threads: 1
    shell:
        STAGE + " compared {output:q} {input:q} > {log:q} 2>&1"
