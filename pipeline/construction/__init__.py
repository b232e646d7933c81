"""Cut list, workshop drawing and build sheet of an antenna.

A study in, texts, records and pages in millimetres out. What is sawn and how joints are made comes
from ``models.construction``; the look of a page from ``pipeline.figures``.
"""
