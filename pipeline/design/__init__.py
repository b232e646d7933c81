"""Searches: cores for a cable, and lengths at which an antenna is matched.

A study in, ranked sets or tuned lengths out.
"""
