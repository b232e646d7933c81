"""Circuit elements over frequency: coax as a line, coils, ferrite, sleeves, metal, port algebra.

Arrays in [Hz, m, ohm], impedances and currents out. No field is solved here.
"""
