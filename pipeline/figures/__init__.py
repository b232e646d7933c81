"""Figures: tables of a results folder in, PNG and SVG out, the same bytes for the same tables.

Each is one record beside its drawing code (see ``registry``). Searches and judgements belong to the
rooms below, the pages that show the figures to ``pipeline.report``.
"""

# The figures of a report are drawn in two jobs of about equal time, so that two cores share them.
FIGURE_GROUPS = ("space", "circuit")
