"""The answer under uncertain inputs: draws, solves, many terminations at once, shares of variance.

A study with unknowns in, candidates with their chances out.
"""
