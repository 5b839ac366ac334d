"""The bag: the list of what is carried, what it amounts to, and whether it fits.

Knows nothing of streets, of the body or of the weather.
"""
