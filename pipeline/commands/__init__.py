"""The sub-commands of the console command, each in a module of its own.

Arguments in, exit code and printed text out. A module holds one :class:`command.Command` called
COMMAND and is found by that. What a command computes belongs to the rooms below, what it says and
writes to ``report``, the run of whole studies to ``workflow``.
"""
