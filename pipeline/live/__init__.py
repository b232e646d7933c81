"""The live page of a report: what it computes with, packed, and the script that computes.

The sources of the script are in ``page/`` (TypeScript), what is built of them in ``built/``. How a
report reads belongs into ``report``, what is solved and how it is judged into the rooms below.
"""
