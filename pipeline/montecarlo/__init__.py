"""The answer under uncertain inputs: draws, solves, chances of every candidate, shares of variance.

A study with unknowns in, candidates with their chances out. Figures of merit of the draws are those
of ``analysis``.
"""
