"""From figures of merit as described to what tables and pages show: cases, intervals, sweeps.

Case results and uncertainties in; merits with the ends of their intervals, and a choke at other
places out. What is taken, and how sure that is, is in ``answer``; tables and pages in ``report``.
"""
