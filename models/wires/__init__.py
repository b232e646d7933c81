"""Wires, segments and ports of a structure, and fat pipes drawn as cages of thin wires.

Points, radii and frequencies in [m, Hz], frozen structures out. What an antenna is belongs to
``antennas``, what stands around it to ``site``.
"""
