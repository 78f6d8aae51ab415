"""Care, the service walk, renewal, and the events that come of it."""
