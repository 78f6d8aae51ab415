"""Dated events, seasons, shopping, money over the years, many tubs."""
