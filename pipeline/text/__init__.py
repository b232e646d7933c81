"""The edge where text becomes values and values become text: units, lengths, YAML, messages.

Text of strangers in; SI numbers, plain data or an error of four parts out. Nothing here knows a
study; files and processes belong to ``runtime``.
"""
