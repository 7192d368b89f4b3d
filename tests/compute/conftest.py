from hypothesis import settings

# A busy machine is no failure: properties are about values, not about milliseconds.
settings.register_profile("compute", deadline=None)
settings.load_profile("compute")
