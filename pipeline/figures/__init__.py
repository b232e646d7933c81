"""Figures: tables of a results folder in, PNG and SVG out, the same bytes for the same tables.

Each is one record beside its drawing code (see ``registry``). Searches and judgements belong to the
rooms below, the pages that show the figures to ``pipeline.report``.
"""

# Parts of a report that show figures, one for each question.
SECTIONS = (
    *("why", "many", "place", "sure", "avoid", "cost", "candidates", "pattern", "band"),
    *("exposure", "assumed"),
)
