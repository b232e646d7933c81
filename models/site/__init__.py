"""Antenna, mast, metalwork, cable route, bond and soil put together above the ground.

An antenna and a site in, one structure with ports along the cable out, or a GeometryError with
everything that cannot be drawn. Where a study says these things is the concern of
``pipeline.study``.
"""
