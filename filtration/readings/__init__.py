"""An owner's readings: kept, fitted, and what they say of the next service."""
