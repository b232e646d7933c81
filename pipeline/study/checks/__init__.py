"""Checks of a study's values against each other, before any wire is drawn.

A study in, faults with their remedies out.
"""
