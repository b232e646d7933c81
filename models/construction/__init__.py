"""From centre lines to what is sawn, soldered and loaded by the wind.

Runs of pipe and their joints in; cut lengths, fittings, stock and wind load out. Text and drawings
of a cut list belong to ``pipeline.construction``.
"""
