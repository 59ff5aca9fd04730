"""What was found? Sentences for effects, habits, labs, energy, experiments, one file a table."""
