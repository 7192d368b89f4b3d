from hypothesis import settings

# Whole files are written and read in each example: their time says nothing on a busy machine.
settings.register_profile("importing", deadline=None)
settings.load_profile("importing")
