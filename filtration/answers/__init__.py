"""Ranking, decision, odds, drivers, remarks, series, sizing."""
