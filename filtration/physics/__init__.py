"""Formulas and frozen values of water, media, pumps, pipes and money."""
