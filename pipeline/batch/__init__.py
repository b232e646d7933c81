"""Very many installations: a batch file in, one tidy table of all of them out, and what it says.

A batch is a study with axes over its keys. What is drawn alike is solved once and kept by its
content; chokes and terminations are the algebra and the score of a single study. How a batch is
run, on one machine or on many, belongs to ``workflow``.
"""
