"""How elements load: an option before its cases, its table along the clock, a run."""
