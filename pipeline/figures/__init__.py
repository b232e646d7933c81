"""Figures from tables and geometry files, one module a group; ``registry`` names them all.

Tables in, SVG, PDF and PNG out. Nothing is computed here that a table does not hold.
"""
