"""Draws what the earlier rooms found: figures, the printed timeline, the offline page, exports.

Nothing here computes a result. Every number on paper or screen comes from the walk's own tables
and summary; this room only places, rounds, converts units and says things in words.
"""
