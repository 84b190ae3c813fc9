"""The domain: coffees, bowls, seats, rounds, records, and the rules of a fair tasting.

Pure: no files, no network, no clock; randomness comes in as a ``numpy.random.Generator``.
"""
