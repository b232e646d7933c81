"""The run of whole studies: plans of studies in, stages run by the workflow, results folders out.

The Snakefile says what is made from what; here stand its stages, what it has to know before its
first job, and its progress with the time left. What people type belongs to ``commands``, what a
page or table says to ``report``.
"""
