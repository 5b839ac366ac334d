"""Published models of a walking body: pace, energy, water, and cold and heat.

Every model is one short pure function of scalars or arrays, named for what it gives and, where
several exist, by author and year. Its limits are data in the module's ``LIMITS``: outside them it
gives NaN, and for impossible input it raises ``ValueError`` with the allowed range. This room
knows nothing of streets, skies, bags or plans; it opens no file and reads no clock.

Beside each constant stands how well its source is known: "read" (the source itself), "read in the
abstract", "restated in …" (another publication's restatement was read, not the source), "from
memory" (not confirmed), or "assumption" (no source exists; the person can change it).
"""
