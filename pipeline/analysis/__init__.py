"""Figures of merit of every case from port bases: currents, pattern, losses, noise, exposure.

Port bases and terminations in, results by case out; nothing is solved again. Whether a number
matters is said in ``judgement``.
"""
