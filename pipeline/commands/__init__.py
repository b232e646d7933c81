"""The commands of the command line, the stages of the workflow, and what they share.

Arguments in, exit code out.
"""
