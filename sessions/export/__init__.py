"""What leaves a casebook as data: tables with their dictionary, figures' numbers, the proof bundle, a pool of many.

Nothing here tells a key or a score of a plan that is not over.
"""
