"""How far the numbers can be trusted: average gain, reciprocity, refinement, uncertainty.

Geometries and results in, grades and uncertainties out.
"""
