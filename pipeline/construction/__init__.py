"""Cut list, workshop drawing and build sheet of an antenna.

A study in, pages and drawings in millimetres out; the lengths come from ``models.construction``.
"""
