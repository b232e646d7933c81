"""From the text of a study file to a frozen ``Study`` in SI units, or all its faults at once.

A section of the file is one record with markers on its fields, in ``sections``; ``section`` makes
its reader, messages and JSON Schema from them. ``checks`` hold values against each other,
``records`` is what everybody else uses. Wires are drawn in ``solver.structures``.
"""
