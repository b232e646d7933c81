"""Searches: cores for a cable, and lengths at which an antenna is matched with its cable in place.

A study in, rated sets of cores or tuned lengths out. Solves come from ``pipeline.solver``, draws of
what is unknown from ``pipeline.montecarlo``; words and pages belong to ``pipeline.report``.
"""
