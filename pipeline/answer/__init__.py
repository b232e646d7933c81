"""The one answer of a study: every candidate's chance of being enough, the one to take, and why.

Draws of installations and their figures of merit come in (``montecarlo``); out come :class:`Answer`
and its sentences, which every page, figure, table and summary reads. How a case does as described
is found in ``judgement``; pages are made in ``report``.
"""
