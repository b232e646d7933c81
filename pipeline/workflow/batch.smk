"""What is made from what in a batch: a chunk of installations -> its rows -> table -> its pages.

It works in the folder of the batch, where the plan is. Configuration: store (of solves), made_from
(digest of the plan), made_with (digest of the code), and stored, if rows are kept in the storage of
a profile because machines share no disk.
"""

import math
import shlex
import sys
from pathlib import Path

from snakemake.utils import min_version

min_version("9.0")


# As a file of settings, so that it goes with the workflow to machines that share no disk.
configfile: ".plan/plan.json"


CHUNKS = {chunk["digest"]: chunk for chunk in config["chunks"]}
PLANNED = ".plan/{digest}.json"
# Python of the machine that runs the job, since each reads this file anew: in a container it is the
# container's. Safe path: a folder named "models" where it stands must not hide ours.
PYTHON = shlex.quote(sys.executable).replace("{", "{{").replace("}", "}}")
STAGE = f"{PYTHON} -P -m pipeline"
# Slowness of a machine against the one of which the plan gives times, and time of a start. [min]
SLOWNESS, START = 3, 5


wildcard_constraints:
    digest="[0-9a-f]+",


# Table and pages lie in the folder of whoever asked for them, wherever rows are kept; both together
# take little more than the start of a job.
localrules:
    table,
    pages,


if config.get("stored"):

    localrules:
        planned,

    # Chunks for machines that do not see this folder.
    rule planned:
        input:
            local(expand(PLANNED, digest=CHUNKS)),
        output:
            expand(".chunks/{digest}.json", digest=CHUNKS),
        params:
            target=lambda w, output: Path(output[0]).parent,
        shell:
            "cp .plan/* {params.target:q}/"

    PLANNED = ".chunks/{digest}.json"


# A job solves its installations one after the other and keeps each solve by its content, so that it
# goes on from there wherever it is stopped; the store is no output that a failed job would lose.
rule rows:
    input:
        # Its name is its content: its age says nothing.
        ancient(PLANNED),
    output:
        ".rows/{digest}.parquet",
    log:
        "logs/{digest}.log",
    params:
        store=config["store"],
        made_with=config["made_with"],
    threads: 1
    # What is killed for its size or time gets more of it where it is tried again.
    resources:
        mem_mb=lambda w, attempt: attempt * CHUNKS[w.digest]["memory_mb"],
        runtime=lambda w, attempt: (
            attempt * (START + math.ceil(SLOWNESS * CHUNKS[w.digest]["seconds"] / 60))
        ),
    shell:
        STAGE + " batch-rows {input:q} {params.store:q} {output:q} > {log:q} 2>&1"


rule table:
    input:
        rows=expand(".rows/{digest}.parquet", digest=CHUNKS),
        plan=ancient(local(".plan/plan.json")),
    output:
        table=local("table.parquet"),
        short=local("table_short.parquet"),
    log:
        local("logs/table.log"),
    params:
        rows=lambda w, input: Path(input.rows[0]).parent,
        made_from=config["made_from"],
        made_with=config["made_with"],
    threads: 1
    shell:
        STAGE + " batch-table {input.plan:q} {params.rows:q} {output.table:q} > {log:q} 2>&1"


rule pages:
    default_target: True
    input:
        local("table.parquet"),
    output:
        local("batch.html"),
    log:
        local("logs/pages.log"),
    params:
        made_with=config["made_with"],
    # Nothing else is left to do by then; a cluster counts jobs, not cores.
    threads: workflow.cores or 1
    shell:
        STAGE + " batch-pages {input:q} {threads} > {log:q} 2>&1"
