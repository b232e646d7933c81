"""From a study file to an answer: what a choke on the coax of a pipe-built vertical changes.

Rooms from the bottom: text, runtime, study, circuit, solver, analysis, mesh, judgement, montecarlo,
design, figures, construction, report, workflow, commands. Each imports those below it only.
"""
