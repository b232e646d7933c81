"""From the text of a study file to a frozen ``Study`` in SI units, or all its faults at once.

``records`` are what everybody else uses; ``sections`` hold one section of the file each, ``checks``
hold values against each other. Wires are drawn in ``solver.structures``.
"""
