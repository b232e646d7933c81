"""From a study to field solutions: structures, cases, NEC-2, port bases, far and near fields.

A study in; for each geometry the response to one volt at each port out, kept by content digest.
``nec2`` is the only module that imports PyNEC.
"""
