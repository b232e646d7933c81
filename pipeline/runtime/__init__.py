"""Files that are whole or absent, tables, locks on results, worker processes and progress.

Nothing here knows what the files are about.
"""
