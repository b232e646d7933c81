"""What the table of a batch says: rows in; shares with intervals, rules, arrays and a page out.

Statistics of installations that were computed elsewhere. What makes the rows belongs to ``batch``,
pictures to ``figures``; nothing here knows what an antenna is.
"""
