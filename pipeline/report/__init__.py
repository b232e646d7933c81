"""Sentences, tables, ``summary.json`` and pages for readers and programs.

Cases with their figures of merit, or what a command found, in; texts, rows and whole pages out
(their text in ``templates``). Drawing belongs to ``figures``, the decision what to advise to
``judgement``, the order in which files are written to ``commands`` and ``workflow``.
"""
