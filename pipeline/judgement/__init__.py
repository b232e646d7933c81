"""From figures of merit to advice: intervals, variations, effects, the case to take and why.

Case results and uncertainties in; effects and a recommendation out, in numbers and in words. Draws
of uncertain inputs are in ``montecarlo``, tables and pages in ``report``.
"""
