"""All wording."""
