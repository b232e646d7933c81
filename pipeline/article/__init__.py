"""A study as the material of an article: figures, tables, methods, data, and how to make it again.

Results folders come in (tables, figures, summaries, as ``report`` and ``figures`` left them); one
folder and one archive of it go out. Nothing is solved or judged here; the runs behind it belong to
``workflow``, the sentences to ``answer``.
"""

# Folder of articles among the results of studies.
FOLDER = "article"
