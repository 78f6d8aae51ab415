"""Pictures of an answer."""
