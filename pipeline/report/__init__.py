"""Sentences, tables, summary and pages from what was judged; templates in ``templates``.

Results in, files for readers and programs out.
"""
