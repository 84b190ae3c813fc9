"""What holds for all tests.

Examples that are made up while testing are the same in every run, so that a run tells something
of the change and not of chance; they take as long as they take. `make fuzz` looks for new ones.
"""

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("new", deadline=None, max_examples=2000)
settings.load_profile("same")
