"""Published cases recomputed."""
