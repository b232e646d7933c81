"""Antenna, mast, metalwork, cable route, bond and soil put together above the ground.

An antenna and a site in, one structure with ports along the cable out. Where a study says these
things is the concern of ``pipeline.study``.
"""
