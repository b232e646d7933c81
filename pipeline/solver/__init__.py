"""From a study to field solutions: structures, cases, solver, port bases, fields.

A study in; for each geometry the response to one volt at each port out, kept by content digest.
``field_solver`` says what a solver has to offer; ``nec2`` is the one there is and the only module
that imports PyNEC.
"""
