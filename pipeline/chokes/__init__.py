"""Kinds of choke: what a candidate of a study is, may be and does, one record and module a kind.

In come sizes, parts and a cable's class; out go impedance over frequency, length on the cable,
fit, limits, variation and wording. ``kind`` says what a kind may answer, ``kinds`` lists them. The
room lies below ``study``, which makes the keys of its file from the markers on a record, and above
``circuit``, whose formulas are loaded where an impedance is asked for: a study is read without
SciPy. Nobody outside asks which kind a choke is (tests/chokes/test_kinds.py). Fields, cases and
figures of merit belong elsewhere.
"""
