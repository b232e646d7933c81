"""Checks of the mesh: average gain, reciprocity, convergence, uncertainty.

Geometries and results in, grades and uncertainties out.
"""
