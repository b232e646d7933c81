"""Geometry of pipe-built verticals and the catalogues of their parts; knows no solver.

Rooms, each importing those before it only: wires, catalogues, construction, antennas, site. Lengths
as people read them and the markers of parameters stand beside the rooms, for all of them.
"""
