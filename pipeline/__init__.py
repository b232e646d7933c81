"""From a study file to an answer: what a choke on the coax of a pipe-built vertical changes.

Rooms from the bottom: text, runtime, circuit, chokes, study, solver, analysis, mesh, judgement,
montecarlo, answer, design, figures, construction, live, report, article, batch, survey, workflow,
commands. Each imports those below it only.
"""

import os

# Work is shared out over processes. Threads that linear algebra starts in each of them get in each
# other's way: on two cores a choice of cores took 57 s with them and 16 s without. Sums come out
# the same on any number of cores, too. It counts for NumPy imported after this; what a user has set
# stays.
for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
