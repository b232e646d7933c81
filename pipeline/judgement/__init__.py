"""From figures of merit to advice: thresholds, intervals, what varies, what to take.

Case results and uncertainties in; effects, scores and a recommendation out. The only room that
knows a score.
"""
