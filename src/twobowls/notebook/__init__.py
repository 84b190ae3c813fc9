"""For notebooks: data frames in, tables and pictures out. Thin calls to the pure functions.

Nothing is computed here. Each call checks its columns, asks one function of the core, and wraps
the answer in a `Result`. The names are offered by ``import twobowls``.
"""
