"""Figures of merit of one case or very many rows from port bases; noise, heat, exposure, cable.

Port bases and terminations in; results, figures of merit and their score out, all of it by
superposition: nothing is solved. What is taken is said in ``answer``.
"""
