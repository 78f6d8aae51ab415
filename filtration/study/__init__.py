"""The study file and its frozen values, checked once at the edge."""
